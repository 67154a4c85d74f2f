"""Connections to a SQLite file: WAL mode, full sync, foreign keys; how transactions begin."""

import sqlite3
import time
from typing import Any

import sqlalchemy as sa

READERS = 4
BUSY_SECONDS = 10.0


def engine_of(path: str, *, writes: bool) -> sa.Engine:
    """An engine on the file whose transactions take the write lock at once, or never."""
    engine = sa.create_engine(
        sa.URL.create("sqlite", database=path),
        poolclass=sa.pool.QueuePool,
        pool_size=1 if writes else READERS,
        max_overflow=0,
        hide_parameters=True,  # what a shop stores is not for the log
        connect_args={"timeout": BUSY_SECONDS, "check_same_thread": False},
    )
    begin = "BEGIN IMMEDIATE" if writes else "BEGIN"

    @sa.event.listens_for(engine, "connect")
    def prepare(connection: sqlite3.Connection, _record: Any) -> None:
        connection.isolation_level = None
        _keep_a_wal(connection)
        connection.execute("PRAGMA synchronous = FULL")
        connection.execute("PRAGMA foreign_keys = ON")
        if not writes:
            connection.execute("PRAGMA query_only = ON")

    @sa.event.listens_for(engine, "begin")
    def start(connection: sa.Connection) -> None:
        connection.exec_driver_sql(begin)

    return engine


def _keep_a_wal(connection: sqlite3.Connection) -> None:
    """Switch a new file to WAL mode; SQLite waits for no other process that does so, too."""
    until = time.monotonic() + BUSY_SECONDS
    while True:
        try:
            connection.execute("PRAGMA journal_mode = WAL")
            return
        except sqlite3.OperationalError as error:
            busy = error.sqlite_errorcode & 0xFF == sqlite3.SQLITE_BUSY
            if not busy or time.monotonic() > until:
                raise
        time.sleep(0.005)
