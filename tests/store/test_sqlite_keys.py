"""What a SQLite file tells of a key at once, whoever wrote to it."""

import os
import time
from collections.abc import AsyncIterator, Hashable
from typing import NamedTuple
from uuid import UUID

import pytest
from stored import vehicle

from service.store import keys
from service.store.keys import Token
from service.store.sqlite import SqliteStore
from service.store.sqlite_keys import SETTLED, KeyRows
from service.store.vehicles import VEHICLES

pytestmark = pytest.mark.anyio


class Watched(NamedTuple):
    """A store, a key of its shop, and the rows of keys as another process sees them."""

    store: SqliteStore
    shop: UUID
    token: Token
    rows: KeyRows

    def settle(self) -> None:
        """Let the last write be long ago."""
        wal = f"{self.store.path}-wal"
        ago = time.time_ns() - 10 * SETTLED
        os.utime(wal, ns=(ago, ago))

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
    watched.settle()
    assert watched.mark() is not None
    assert watched.mark() == watched.mark()


async def test_a_mark_stays_while_other_things_are_written(watched: Watched) -> None:
    watched.settle()
    before = watched.mark()
    await watched.store.write(watched.shop, lambda scope: VEHICLES.create(scope, vehicle("17")))
    assert watched.mark() == before


@pytest.mark.parametrize("settled", [True, False])
async def test_a_key_that_is_revoked_has_another_mark_at_once(
    watched: Watched, settled: bool
) -> None:
    if settled:
        watched.settle()
    before = watched.mark()
    await watched.store.write(watched.shop, lambda scope: keys.revoke(scope, watched.token.key))
    assert watched.mark() != before


async def test_the_row_is_not_read_again_while_nothing_is_written(watched: Watched) -> None:
    watched.settle()
    before = watched.mark()
    watched.rows.stop()
    assert watched.rows._connection is None
    assert watched.mark() == before
    assert watched.rows._connection is None


async def test_a_file_that_was_written_just_now_is_read_each_time(watched: Watched) -> None:
    await watched.store.write(watched.shop, lambda scope: VEHICLES.create(scope, vehicle("18")))
    assert watched.mark() is not None
    watched.rows.stop()
    assert watched.mark() is not None
    assert watched.rows._connection is not None
