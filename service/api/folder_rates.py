"""Rate limits that the processes of one port share, through a small file in a folder of theirs.

Leases are those of `shared_rates`, so a request in twenty or so asks the file (a tenth of a
millisecond) and the rest do not. The file is as short-lived as the folder.
"""

import logging
import sqlite3
from functools import cached_property
from hashlib import blake2b
from pathlib import Path

from service.api.rates import Lease, Policy, part_of

_log = logging.getLogger("service")


class FolderSource:
    """Leases from counts in a file that several processes open."""

    def __init__(self, folder: Path) -> None:
        self._file = folder / "rates"

    @cached_property
    def _connection(self) -> sqlite3.Connection:
        connection = sqlite3.connect(self._file, timeout=0.25, isolation_level=None)
        connection.execute("PRAGMA journal_mode = WAL")
        connection.execute("PRAGMA synchronous = OFF")  # nobody misses it after a power cut
        connection.execute(
            "CREATE TABLE IF NOT EXISTS spent (policy TEXT, who BLOB, time_window INTEGER, "
            "used INTEGER, PRIMARY KEY (policy, who)) WITHOUT ROWID"
        )
        return connection

    async def lease(self, policy: Policy, who: bytes, window: int, cost: int) -> Lease:
        """A part of what is left of a quota; the whole of it where the file cannot be used."""
        try:
            return self._leased(policy, blake2b(who, digest_size=16).digest(), window, cost)
        except sqlite3.Error as error:
            _log.warning("rate limits are counted by each process alone: %s", error)
            return Lease(policy.quota, 0)

    def _leased(self, policy: Policy, who: bytes, window: int, cost: int) -> Lease:
        connection, key = self._connection, (policy.name, who)
        connection.execute("BEGIN IMMEDIATE")
        try:
            row = connection.execute(
                "SELECT used, time_window FROM spent WHERE policy = ? AND who = ?", key
            ).fetchone()
            used = row[0] if row and row[1] == window else 0
            if row is None or row[1] != window:  # once a window and caller: forget older ones
                gone = (policy.name, window)
                connection.execute("DELETE FROM spent WHERE policy = ? AND time_window < ?", gone)
            granted = part_of(policy, policy.quota - used, cost)
            connection.execute(
                "INSERT INTO spent VALUES (?, ?, ?, ?) ON CONFLICT (policy, who) DO UPDATE "
                "SET time_window = excluded.time_window, used = excluded.used",
                (*key, window, used + granted),
            )
            connection.execute("COMMIT")
        except BaseException:
            connection.execute("ROLLBACK")
            raise
        return Lease(granted, policy.quota - used - granted)

    async def close(self) -> None:
        """Close the file."""
        if "_connection" in self.__dict__:
            self._connection.close()
