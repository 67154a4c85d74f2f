"""Bringing a database to the newest revision, and asking whether it is there.

The revisions live in `migrations/` of a checkout and ship inside the wheel. Alembic, and the
driver that is not asked for, are imported only where there is work for them, since a process
starts sooner without (`revisions` looks whether there is any).
"""

import asyncio
from collections.abc import Callable
from typing import Any, TypeVar

import sqlalchemy as sa
from sqlalchemy.engine import make_url

from service.shipped import shipped

T = TypeVar("T")

_CURRENT = sa.text("SELECT version_num FROM alembic_version")

_LOCK = int.from_bytes(b"axlewrgt") >> 1


async def migrate(url: str, revision: str = "head") -> str | None:
    """Upgrade the database to a revision, the newest by default; returns the one it then has."""

    def upgrade(connection: sa.Connection) -> str | None:
        from alembic import command

        command.upgrade(_config(connection), revision)
        return _revision(connection)

    return await _on(url, upgrade)


async def downgrade(url: str, revision: str) -> str | None:
    """Take the database back to an earlier revision (`base`: to nothing)."""

    def back(connection: sa.Connection) -> str | None:
        from alembic import command

        command.downgrade(_config(connection), revision)
        return _revision(connection)

    return await _on(url, back)


async def current_revision(url: str) -> str | None:
    """The revision that the database has; None before the first migration."""
    return await _on(url, _revision)


async def migrate_check(url: str) -> str | None:
    """None if the database is at the newest revision, else a sentence that says what is missing."""
    current = await current_revision(url)
    newest = newest_revision()
    if current == newest:
        return None
    return f"The database is at revision {current or 'none'}, this service needs {newest}."


def newest_revision() -> str | None:
    """The revision that this version of the service needs."""
    from alembic.script import ScriptDirectory

    return ScriptDirectory.from_config(_config(None)).get_current_head()


def _config(connection: sa.Connection | None) -> Any:
    from alembic.config import Config

    config = Config()
    config.set_main_option("script_location", str(shipped("migrations")).replace("%", "%%"))
    config.set_main_option("path_separator", "os")
    config.attributes["connection"] = connection
    return config


def _revision(connection: sa.Connection) -> str | None:
    if not sa.inspect(connection).has_table("alembic_version"):
        return None
    found: str | None = connection.execute(_CURRENT).scalar()
    return found


async def _on(url: str, work: Callable[[sa.Connection], T]) -> T:
    """Run work in one transaction; two migrations of one database wait for each other."""
    if make_url(url).get_backend_name() == "sqlite":
        return await asyncio.to_thread(_on_sqlite, url, work)
    from service.store import postgres

    engine = postgres.engine_of(url)

    def locked(connection: sa.Connection) -> T:
        connection.exec_driver_sql("SELECT pg_advisory_xact_lock($1)", (_LOCK,))
        return work(connection)

    try:
        async with engine.begin() as connection:
            return await connection.run_sync(locked)
    except Exception as error:
        raise postgres.in_own_words(error) from error
    finally:
        await engine.dispose()


def _on_sqlite(url: str, work: Callable[[sa.Connection], T]) -> T:
    """SQLite changes a table by building it anew, and dropping the old one would delete children.

    Foreign keys are therefore off meanwhile and looked at as a whole before the commit
    (sqlite.org/lang_altertable.html, 7).
    """
    from service.store import sqlite, sqlite_engine

    path: Any = make_url(url).database
    engine = sqlite_engine.engine_of(path, writes=True)

    @sa.event.listens_for(engine, "connect")
    def release(connection: Any, _record: Any) -> None:
        connection.execute("PRAGMA foreign_keys = OFF")

    try:
        with sqlite.reasons(), engine.begin() as connection:
            result = work(connection)
            orphans = connection.exec_driver_sql("PRAGMA foreign_key_check").first()
            if orphans is not None:
                raise RuntimeError(f"the revision leaves rows of {orphans[0]} without a parent")
            return result
    finally:
        engine.dispose()
