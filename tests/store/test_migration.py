"""Revisions and models never differ, and data lives through the way up and down."""

import asyncio
import contextlib
from collections.abc import Iterator
from pathlib import Path

import pytest
import sqlalchemy as sa
from alembic.autogenerate import compare_metadata
from alembic.runtime.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy.engine import make_url
from stored import vehicle

from service.store import migration
from service.store.database import open_store
from service.store.errors import StoreUnavailable
from service.store.migration import current_revision, downgrade, migrate, migrate_check
from service.store.postgres import engine_of
from service.store.tables import metadata
from service.store.vehicles import VEHICLES

REVISIONS = [
    revision.revision
    for revision in ScriptDirectory.from_config(migration._config(None)).walk_revisions()
][::-1]


@pytest.fixture(params=["sqlite", "postgresql"])
def empty_url(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[str]:
    """URL of a database with nothing in it, once of each kind."""
    if request.param == "sqlite":
        yield f"sqlite:///{tmp_path / 'empty.sqlite3'}"
        return
    admin = request.getfixturevalue("postgres_url")
    asyncio.run(statement(admin, "CREATE DATABASE empty"))
    yield make_url(admin).set(database="empty").render_as_string(hide_password=False)
    asyncio.run(statement(admin, "DROP DATABASE empty"))


async def statement(url: str, text: str) -> None:
    engine = engine_of(url)
    async with engine.connect() as connection:
        raw = await connection.execution_options(isolation_level="AUTOCOMMIT")
        await raw.exec_driver_sql(text)
    await engine.dispose()


def test_models_and_migrations_never_differ(empty_url: str) -> None:
    """What the revisions build is what the models say, to the last index and column type."""
    asyncio.run(migrate(empty_url))
    options = {"compare_type": True}

    def differences(connection: sa.Connection) -> list[object]:
        context = MigrationContext.configure(connection, opts=options)
        return list(compare_metadata(context, metadata))

    assert asyncio.run(migration._on(empty_url, differences)) == []


@pytest.mark.parametrize("revision", ["base", *REVISIONS[:-1]])
def test_data_lives_through_an_upgrade_from_every_revision(empty_url: str, revision: str) -> None:
    """Down to the revision and up again with rows in the tables of the newest one."""

    async def there_and_back() -> None:
        await migrate(empty_url)
        store = open_store(empty_url)
        await store.open()
        shop = await store.create_shop("Shop (invented)")
        made = await store.write(shop, lambda s: VEHICLES.create(s, vehicle()))
        await store.close()
        assert await downgrade(empty_url, revision) == (None if revision == "base" else revision)
        assert await migrate(empty_url) == REVISIONS[-1]
        await store.open()
        kept = await store.every_shop()
        if revision == "base":
            assert kept == []
        else:
            assert await store.read(shop, lambda s: VEHICLES.get(s, made.id)) == made
        await store.close()

    asyncio.run(there_and_back())


def test_the_check_says_what_is_missing(empty_url: str) -> None:
    async def check() -> None:
        assert f"revision none, this service needs {REVISIONS[-1]}" in str(
            await migrate_check(empty_url)
        )
        await migrate(empty_url)
        assert await migrate_check(empty_url) is None
        assert await migrate(empty_url) == REVISIONS[-1]
        assert await current_revision(empty_url) == REVISIONS[-1]

    asyncio.run(check())


def test_two_migrations_at_once_wait_for_each_other(empty_url: str) -> None:
    async def both() -> list[str | None]:
        return list(await asyncio.gather(migrate(empty_url), migrate(empty_url)))

    assert asyncio.run(both()) == [REVISIONS[-1]] * 2


def test_every_revision_says_what_it_locks() -> None:
    scripts = ScriptDirectory.from_config(migration._config(None))
    for revision in scripts.walk_revisions():
        assert "Locks: " in revision.doc or "Locks: " in (revision.module.__doc__ or "")


def test_a_file_that_is_not_there_is_not_made_by_opening(tmp_path: Path) -> None:
    store = open_store(f"sqlite:///{tmp_path / 'missing.sqlite3'}")
    with pytest.raises(StoreUnavailable, match="run the migration"):
        asyncio.run(store.open())
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("url", ["mysql://x/y", "sqlite://", "sqlite:///:memory:"])
def test_a_database_that_cannot_serve_is_refused(url: str) -> None:
    with pytest.raises(ValueError, match="write"), contextlib.suppress(ModuleNotFoundError):
        open_store(url)
