"""Changes of keys in a SQLite file: the row itself is read again, by a connection for that alone.

Plain `sqlite3` reads a row by its primary key in about 4.5 µs, from the wal that all processes
share. `PRAGMA data_version`, which only says whether anything was committed, takes 3 µs and would
call for a real look after every write of anything. A look through the store takes 200 µs and more.
"""

import sqlite3
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


class KeyRows:
    """The `KeyWatch` of a file; for one thread, that of the event loop."""

    def __init__(self, path: str) -> None:
        self._path = path
        self._connection: sqlite3.Connection | None = None

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
