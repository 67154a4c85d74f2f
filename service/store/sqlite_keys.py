"""Changes of keys in a SQLite file: the row itself is read again, by a connection for that alone.

Plain `sqlite3` reads a row by its primary key in 5 to 12 µs, from the wal that all processes share;
a look through the store takes 200 µs and more. While nobody commits anything, not even that is
needed: each commit writes to the wal, and the time and size of that file take 2 µs to ask for.
"""

import os
import sqlite3
import time
from collections.abc import Hashable
from pathlib import Path

from sqlalchemy.dialects import sqlite

from service.store.binding import select_by
from service.store.keys import Token
from service.store.tables import api_keys

_COLUMNS = ("secret_hash", "scopes", "expires_at", "revoked_at")
_BOUND = select_by(api_keys, _COLUMNS, ("id",)).statement.compile(
    dialect=sqlite.dialect(paramstyle="named")
)
_ROW = str(_BOUND)

Stamp = tuple[int, int]
"""Time of the last write to a file, in nanoseconds, and its size."""

SETTLED = 50_000_000
"""Nanoseconds: a file's time moves in steps of a few milliseconds, so that one that was written
just now may be written again without a trace."""

MOST_READ = 10_000
"""Rows that are kept until the next commit."""


class KeyRows:
    """The `KeyWatch` of a file; for one thread, that of the event loop."""

    def __init__(self, path: str) -> None:
        self._path = path
        self._wal = f"{path}-wal"
        self._connection: sqlite3.Connection | None = None
        self._read_at: Stamp | None = None
        self._read: dict[Token, Hashable] = {}

    def start(self) -> None:
        """The file is opened by the first mark."""

    def stop(self) -> None:
        """Close the file."""
        if self._connection is not None:
            self._connection.close()
            self._connection = None

    def mark(self, token: Token) -> Hashable | None:
        """What the key's row says of what it may do; None if there is none or it cannot be read.

        A file that is locked is not waited for: the look through the store does that.
        """
        stamp = self._stamp()
        if stamp is None or stamp != self._read_at:
            self._read_at = stamp
            self._read.clear()
        known = self._read.get(token)
        if known is None:
            known = self._row(token)
            if stamp is not None and known is not None and len(self._read) < MOST_READ:
                self._read[token] = known
        return known

    def _stamp(self) -> Stamp | None:
        """The stamp of the wal; None while there is none to rely on."""
        try:
            found = os.stat(self._wal)
        except OSError:
            return None
        written = found.st_mtime_ns
        return (written, found.st_size) if written + SETTLED < time.time_ns() else None

    def _row(self, token: Token) -> Hashable | None:
        try:
            connection = self._connection or self._open()
            # every row is fetched, so that the statement ends and with it its snapshot
            rows = connection.execute(_ROW, {"shop": token.shop.hex, "id": token.key.hex})
            found = rows.fetchall()
        except sqlite3.Error:
            return None
        return found[0] if found else None

    def _open(self) -> sqlite3.Connection:
        there = f"{Path(self._path).absolute().as_uri()}?mode=rw"  # makes no file
        self._connection = sqlite3.connect(there, uri=True, timeout=0, isolation_level=None)
        self._connection.execute("PRAGMA query_only = ON")
        return self._connection
