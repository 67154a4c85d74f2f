"""Revisions and models never differ, and data lives through the way up and down."""

import asyncio
import contextlib
from pathlib import Path

import pytest
import sqlalchemy as sa
from alembic import command
from alembic.util import CommandError
from revisions import (
    REVISIONS,
    everything,
    fill,
    with_a_next_revision,
)

from service.store import migration, tables
from service.store.database import open_store
from service.store.errors import StoreUnavailable
from service.store.migration import current_revision, downgrade, migrate, migrate_check
from service.store.tables import metadata


def check(connection: sa.Connection) -> None:
    """What `alembic check` does."""
    command.check(migration._config(connection))


def test_alembic_finds_no_difference_between_models_and_revisions(empty_url: str) -> None:
    asyncio.run(migrate(empty_url))
    asyncio.run(migration._on(empty_url, check))


def test_a_column_that_no_revision_makes_is_found(
    empty_url: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What the check above is worth: one column too many in the models, and it fails."""
    asyncio.run(migrate(empty_url))
    harmed = sa.MetaData(naming_convention=metadata.naming_convention)
    for table in metadata.sorted_tables:
        table.to_metadata(harmed)
    harmed.tables["vehicles"].append_column(sa.Column("colour", sa.Text))
    monkeypatch.setattr(tables, "metadata", harmed)
    with pytest.raises(CommandError, match="colour"):
        asyncio.run(migration._on(empty_url, check))


def test_indexes_are_those_of_the_models_to_their_conditions(empty_url: str) -> None:
    """Alembic compares no conditions of partial indexes, so the databases' own words are."""

    def definitions(connection: sa.Connection) -> set[str]:
        query = "SELECT indexdef FROM pg_indexes WHERE schemaname = 'public'"
        if connection.dialect.name == "sqlite":
            query = "SELECT sql FROM sqlite_master WHERE type = 'index' AND sql IS NOT NULL"
        found = connection.exec_driver_sql(query).scalars()
        return {" ".join(text.split()) for text in found if "alembic_version" not in text}

    def by_the_models(connection: sa.Connection) -> set[str]:
        metadata.create_all(connection)
        made = definitions(connection)
        metadata.drop_all(connection)
        return made

    wanted = asyncio.run(migration._on(empty_url, by_the_models))
    assert any("WHERE" in text for text in wanted)
    asyncio.run(migrate(empty_url))
    assert asyncio.run(migration._on(empty_url, definitions)) == wanted


@pytest.mark.parametrize("revision", ["base", *REVISIONS[:-1]])
def test_data_lives_through_an_upgrade_from_every_revision(empty_url: str, revision: str) -> None:
    """Down to the revision and up again with rows in every table that the revision has."""

    async def there_and_back() -> None:
        await migrate(empty_url)
        before = await fill(empty_url)
        assert await downgrade(empty_url, revision) == (None if revision == "base" else revision)
        assert await migrate(empty_url) == REVISIONS[-1]
        after = await migration._on(empty_url, everything)
        lost = {"base": list(before), "0001": ["worksheets"], "0002": ["worksheets"]}
        assert after == {**before, **{name: [] for name in lost.get(revision, ())}}
        assert await fill(empty_url)

    asyncio.run(there_and_back())


def test_a_database_in_use_goes_up_to_a_next_revision_and_back(
    empty_url: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What a next release will do to a shop's database, on parents that have children.

    SQLite builds such a table anew and drops the old one, which must not take the children along.
    """

    async def there_and_back() -> None:
        await migrate(empty_url)
        before = await fill(empty_url)
        with_a_next_revision(tmp_path, monkeypatch)
        assert "needs next" in str(await migrate_check(empty_url))
        assert await migrate(empty_url) == "next"
        bays = "SELECT count(*) FROM visits WHERE bay = '1'"
        count = await migration._on(empty_url, lambda c: c.exec_driver_sql(bays).scalar_one())
        assert count == len(before["visits"])
        assert await migration._on(empty_url, everything) == before
        assert await downgrade(empty_url, REVISIONS[-1]) == REVISIONS[-1]
        assert await migration._on(empty_url, everything) == before

    asyncio.run(there_and_back())


def test_a_revision_that_leaves_orphans_is_undone_as_a_whole(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Foreign keys are off while SQLite migrates, so they are looked at before the commit."""
    url = f"sqlite:///{tmp_path / 'empty.sqlite3'}"

    async def there_and_back() -> None:
        await migrate(url)
        before = await fill(url)
        with_a_next_revision(tmp_path, monkeypatch, harm='op.execute("DELETE FROM vehicles")')
        await migrate(url)
        with pytest.raises(RuntimeError, match="without a parent"):
            await downgrade(url, REVISIONS[-1])
        assert await current_revision(url) == "next"
        assert await migration._on(url, everything) == before

    asyncio.run(there_and_back())


def test_the_check_says_what_is_missing(empty_url: str) -> None:
    async def ask() -> None:
        assert f"revision none, this service needs {REVISIONS[-1]}" in str(
            await migrate_check(empty_url)
        )
        await migrate(empty_url)
        assert await migrate_check(empty_url) is None
        assert await migrate(empty_url) == REVISIONS[-1]
        assert await current_revision(empty_url) == REVISIONS[-1]

    asyncio.run(ask())


def test_two_migrations_at_once_wait_for_each_other(empty_url: str) -> None:
    async def both() -> list[str | None]:
        return list(await asyncio.gather(migrate(empty_url), migrate(empty_url)))

    assert asyncio.run(both()) == [REVISIONS[-1]] * 2


@pytest.mark.parametrize(
    "url",
    ["postgresql://nobody@127.0.0.1:1/nowhere", "sqlite:////proc/axlewright.sqlite3"],
    ids=["no server", "no place for a file"],
)
def test_a_database_that_is_away_is_said_to_be(url: str) -> None:
    with pytest.raises(StoreUnavailable):
        asyncio.run(migrate(url))


def test_a_file_that_is_not_there_is_not_made_by_opening(tmp_path: Path) -> None:
    store = open_store(f"sqlite:///{tmp_path / 'missing.sqlite3'}")
    with pytest.raises(StoreUnavailable, match="run the migration"):
        asyncio.run(store.open())
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("url", ["mysql://x/y", "sqlite://", "sqlite:///:memory:"])
def test_a_database_that_cannot_serve_is_refused(url: str) -> None:
    with pytest.raises(ValueError, match="write"), contextlib.suppress(ModuleNotFoundError):
        open_store(url)
