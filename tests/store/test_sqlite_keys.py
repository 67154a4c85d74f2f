"""What a SQLite file tells of a key at once, whoever wrote to it."""

import os
import sqlite3
import subprocess
import sys
from collections.abc import AsyncIterator, Hashable
from contextlib import closing
from pathlib import Path
from typing import NamedTuple
from uuid import UUID

import pytest
from stored import vehicle

from service.store import keys, sqlite_keys
from service.store.keys import Token
from service.store.scope import ShopScope
from service.store.sqlite import SqliteStore
from service.store.sqlite_keys import KeyRows
from service.store.vehicles import VEHICLES

pytestmark = pytest.mark.anyio

TRIES_TO_WRITE = """
import sqlite3, sys
sqlite3.connect(sys.argv[1], timeout=0).execute("BEGIN IMMEDIATE")
"""


class Watched(NamedTuple):
    """A store, a key of its shop, and the rows of keys as another process sees them."""

    store: SqliteStore
    shop: UUID
    token: Token
    rows: KeyRows

    def mark(self) -> Hashable | None:
        return self.rows.mark(self.token)


@pytest.fixture
async def watched(sqlite_url: str, anyio_backend: str) -> AsyncIterator[Watched]:
    store = SqliteStore(sqlite_url)
    await store.open()
    shop = await store.create_shop("Example Frame and Axle (invented)")
    _, text = await store.write(shop, lambda scope: keys.create(scope, "till", ["compute"], None))
    token = keys.read_token(text)
    assert token is not None
    rows = KeyRows(store.path)
    yield Watched(store, shop, token, rows)
    rows.stop()
    await store.close()


async def test_a_mark_stays_while_nothing_is_written(watched: Watched) -> None:
    assert watched.mark() is not None
    assert watched.mark() == watched.mark()


async def test_a_mark_stays_while_other_things_are_written(watched: Watched) -> None:
    before = watched.mark()
    await watched.store.write(watched.shop, lambda scope: VEHICLES.create(scope, vehicle("17")))
    assert watched.mark() == before


async def test_a_key_that_is_revoked_has_another_mark_at_once(watched: Watched) -> None:
    before = [watched.mark() for _ in range(3)]
    await watched.store.write(watched.shop, lambda scope: keys.revoke(scope, watched.token.key))
    assert watched.mark() not in before


async def test_a_key_has_another_mark_whatever_the_time_of_the_files_says(
    watched: Watched,
) -> None:
    """A slow disk has a commit seen long after it was written; nothing is written then."""
    for number in range(3):
        await watched.store.write(watched.shop, lambda s, n=number: VEHICLES.create(s, vehicle(n)))
    with closing(sqlite3.connect(watched.store.path)) as other:
        other.execute("PRAGMA wal_checkpoint(RESTART)").fetchall()  # the wal is written anew
    before = [watched.mark() for _ in range(3)]
    wal = Path(f"{watched.store.path}-wal")
    then = wal.stat()
    await watched.store.write(watched.shop, lambda scope: keys.revoke(scope, watched.token.key))
    os.utime(wal, ns=(then.st_atime_ns, then.st_mtime_ns))
    now = wal.stat()
    assert (now.st_mtime_ns, now.st_size) == (then.st_mtime_ns, then.st_size)
    assert watched.mark() not in before


async def test_the_row_is_not_read_again_while_nothing_is_written(watched: Watched) -> None:
    before, _ = watched.mark(), watched.mark()
    said: list[str] = []
    assert watched.rows._connection is not None
    watched.rows._connection.set_trace_callback(said.append)
    assert [watched.mark() for _ in range(3)] == [before] * 3
    assert said == []
    await watched.store.write(watched.shop, lambda scope: VEHICLES.create(scope, vehicle("18")))
    assert watched.mark() == before
    assert len(said) == 1


async def test_without_shared_memory_the_row_is_read_each_time(
    watched: Watched, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(sqlite_keys, "HEAD_VERSION", b"none")
    before = watched.mark()
    assert before is not None
    assert watched.rows._shared is None
    await watched.store.write(watched.shop, lambda scope: keys.revoke(scope, watched.token.key))
    assert watched.mark() not in (before, None)


async def test_a_file_that_was_closed_and_made_anew_is_read_as_it_is(watched: Watched) -> None:
    """The last to close a file removes its shared memory; the next to open it makes another."""
    before = [watched.mark() for _ in range(2)]
    watched.rows.stop()
    await watched.store.close()
    await watched.store.open()
    assert [watched.mark() for _ in range(2)] == before
    await watched.store.write(watched.shop, lambda scope: keys.revoke(scope, watched.token.key))
    assert watched.mark() not in before


async def test_watching_leaves_sqlite_its_locks(watched: Watched) -> None:
    """Closing a descriptor of the shared memory would drop them, and a writer's with them."""
    rows = KeyRows(watched.store.path)  # for the thread that writes

    def work(scope: ShopScope) -> bool:
        VEHICLES.create(scope, vehicle("19"))
        scope.flush()
        assert rows.mark(watched.token) is not None
        rows.stop()
        command = [sys.executable, "-c", TRIES_TO_WRITE, watched.store.path]
        tried = subprocess.run(command, capture_output=True, text=True, check=False)
        return "locked" in tried.stderr

    assert await watched.store.write(watched.shop, work)
