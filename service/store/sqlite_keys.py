"""Changes of keys in a SQLite file: the row itself is read again, by a connection for that alone.

Plain `sqlite3` reads a row by its primary key in 5 to 12 µs, from the wal that all processes share;
a look through the store takes 200 µs and more. While nobody commits anything, not even that is
needed: the head of the index of the wal, a piece of memory that every process of a file shares,
is what a commit changes to be seen at all (https://sqlite.org/walformat.html, 2.1: version, count
of transactions, salts and checksums). It takes 1 µs to read. The time and size of the wal would
tell of a commit too early: a disk may take long from the write until the commit can be seen.
"""

import os
import sqlite3
import sys
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

HEAD_BYTES = 48
HEAD_VERSION = (3_007_000).to_bytes(4, sys.byteorder)
"""Another version of the head is not known here: every row is then read each time."""

MOST_READ = 10_000
"""Rows that are kept until the next commit."""

_held: dict[tuple[int, int], int] = {}
"""Descriptors of shared memory by device and inode, never closed: closing any of them would drop
the locks that SQLite holds on the same file for the process (POSIX, fcntl)."""


class KeyRows:
    """The `KeyWatch` of a file; for one thread, that of the event loop."""

    def __init__(self, path: str) -> None:
        self._path = path
        self._connection: sqlite3.Connection | None = None
        self._shared: int | None = None
        self._read_at: bytes | None = None
        self._read: dict[Token, Hashable] = {}

    def start(self) -> None:
        """The file is opened by the first mark."""

    def stop(self) -> None:
        """Close the file."""
        self._shared = self._read_at = None
        if self._connection is not None:
            self._connection.close()
            self._connection = None

    def mark(self, token: Token) -> Hashable | None:
        """What the key's row says of what it may do; None if there is none or it cannot be read.

        A file that is locked is not waited for: the look through the store does that.
        """
        # before the row, so that a commit in between is met by the next mark
        head = os.pread(self._shared, HEAD_BYTES, 0) if self._shared is not None else None
        if head is None or head != self._read_at:
            self._read_at = head
            self._read.clear()
        known = self._read.get(token)
        if known is None:
            known = self._row(token)
            if head is not None and known is not None and len(self._read) < MOST_READ:
                self._read[token] = known
        return known

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
        connection = sqlite3.connect(there, uri=True, timeout=0, isolation_level=None)
        self._connection = connection
        connection.execute("PRAGMA query_only = ON")
        connection.execute("SELECT 1 FROM api_keys LIMIT 1").fetchall()  # makes the shared memory
        self._shared = _shared_memory(f"{self._path}-shm")
        return connection


def _shared_memory(path: str) -> int | None:
    """Descriptor of the index of the wal; None where there is none whose head is known."""
    try:
        found = os.stat(path)
        place = found.st_dev, found.st_ino
        if place not in _held:
            _held[place] = os.open(path, os.O_RDONLY)
        head = os.pread(_held[place], HEAD_BYTES, 0)
    except (OSError, AttributeError):  # AttributeError: Windows has no pread
        return None
    return _held[place] if head.startswith(HEAD_VERSION) and len(head) == HEAD_BYTES else None
