"""The short look whether a SQLite file needs a migration says what Alembic says."""

import asyncio
import shutil
from pathlib import Path

import pytest

from service.store.migration import downgrade, migrate, newest_revision
from service.store.revisions import is_current, newest


def test_the_newest_revision_is_that_of_alembic() -> None:
    assert newest() == newest_revision()


def test_a_migrated_file_is_current(sqlite_url: str) -> None:
    assert is_current(sqlite_url)


@pytest.mark.parametrize(
    "content", [None, b"", b"not a database at all, but long enough to be one"]
)
def test_what_was_never_migrated_is_not_current(tmp_path: Path, content: bytes | None) -> None:
    file = tmp_path / "a b?.sqlite3"
    if content is not None:
        file.write_bytes(content)
    assert not is_current(f"sqlite:///{file}")


def test_a_file_of_an_earlier_revision_is_not_current_until_it_is_migrated(
    tmp_path: Path, migrated_sqlite_file: Path
) -> None:
    shutil.copy(migrated_sqlite_file, tmp_path / "a.sqlite3")
    url = f"sqlite:///{tmp_path / 'a.sqlite3'}"
    asyncio.run(downgrade(url, "-1"))
    assert not is_current(url)
    asyncio.run(migrate(url))
    assert is_current(url)
