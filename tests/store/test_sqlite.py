"""What only the embedded database must prove: one writer at a time, and a disk that says no."""

import asyncio
import sqlite3
import threading
from collections.abc import AsyncIterator
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy.engine import make_url
from stored import vehicle

from service.store.database import open_store
from service.store.errors import Conflict, StoreUnavailable
from service.store.scope import ShopScope
from service.store.sqlite import SqliteStore
from service.store.sqlite_engine import engine_of
from service.store.vehicles import VEHICLE_LIST, VEHICLES

pytestmark = pytest.mark.anyio


@pytest.fixture
async def sqlite(sqlite_url: str, anyio_backend: str) -> AsyncIterator[SqliteStore]:
    """An open SQLite store."""
    store = SqliteStore(sqlite_url)
    await store.open()
    yield store
    await store.close()


@pytest.mark.parametrize(
    ("pragma", "value"),
    [("journal_mode", "wal"), ("synchronous", 2), ("foreign_keys", 1), ("busy_timeout", 10_000)],
)
@pytest.mark.parametrize("writes", [True, False])
def test_every_connection_is_set_up(
    sqlite_url: str, pragma: str, value: object, writes: bool
) -> None:
    engine = engine_of(str(make_url(sqlite_url).database), writes=writes)
    with engine.connect() as connection:
        assert connection.exec_driver_sql(f"PRAGMA {pragma}").scalar() == value
    engine.dispose()


async def test_twenty_writers_never_see_a_lock(sqlite: SqliteStore) -> None:
    """20 writers with 25 writes each, while others read: all are done, none is refused."""
    shop = await sqlite.create_shop("Busy (invented)")

    async def write(writer: int) -> None:
        for turn in range(25):
            name = f"{writer}-{turn}"
            await sqlite.write(shop, lambda s, n=name: VEHICLES.create(s, vehicle(n)))
            await sqlite.read(shop, lambda s: VEHICLE_LIST.page(s, {}, limit=5))

    await asyncio.gather(*[write(writer) for writer in range(20)])
    names: set[str | None] = set()
    cursor = None
    while True:
        here = cursor
        page = await sqlite.read(
            shop, lambda s, here=here: VEHICLE_LIST.page(s, {}, cursor=here, limit=200)
        )
        names |= {item.unit_number for item in page.items}
        cursor = page.next_cursor
        if cursor is None:
            break
    assert len(names) == 500


async def test_writers_of_three_processes_wait_for_each_other(sqlite_url: str) -> None:
    """Three stores share nothing but the file, as three processes would."""
    stores = [open_store(sqlite_url) for _ in range(3)]
    for store in stores:
        await store.open()
    shop = await stores[0].create_shop("Busy (invented)")

    async def write(number: int) -> None:
        await stores[number % 3].write(shop, lambda s: VEHICLES.create(s, vehicle(str(number))))

    await asyncio.gather(*[write(number) for number in range(120)])
    found = await stores[0].read(shop, lambda s: VEHICLE_LIST.page(s, {}, limit=200))
    assert len(found.items) == 120
    for store in stores:
        await store.close()


async def test_a_refusal_spoils_no_other_work_of_its_transaction(sqlite: SqliteStore) -> None:
    """What queues up shares a transaction; each piece is kept or undone by itself."""
    shop = await sqlite.create_shop("Mixed (invented)")

    def work(number: int) -> Any:
        def within(scope: ShopScope) -> int:
            VEHICLES.create(scope, vehicle(str(number)))
            if number % 3 == 0:
                raise Conflict("no")
            if number % 5 == 0:
                raise ZeroDivisionError
            return number

        return sqlite.write(shop, within)

    results = await asyncio.gather(*[work(n) for n in range(60)], return_exceptions=True)
    kept = {n for n in range(60) if n % 3 and n % 5}
    assert {r for r in results if isinstance(r, int)} == kept
    found = await sqlite.read(shop, lambda s: VEHICLE_LIST.page(s, {}, limit=200))
    assert {item.unit_number for item in found.items} == {str(n) for n in kept}


async def test_a_reader_cannot_write(sqlite: SqliteStore) -> None:
    shop = await sqlite.create_shop("Read (invented)")
    with pytest.raises(RuntimeError, match="wanted to write"):
        await sqlite.read(shop, lambda s: VEHICLES.create(s, vehicle()))
    made = await sqlite.write(shop, lambda s: VEHICLES.create(s, vehicle()))
    with pytest.raises(StoreUnavailable) as refused:
        await sqlite.read(shop, lambda s: VEHICLES.delete(s, made.id, 1))
    assert "readonly" in str(refused.value.__cause__)


async def test_a_full_disk_is_unavailable_and_recovers_by_itself(sqlite: SqliteStore) -> None:
    """SQLite's own limit of pages stands for the disk: it fails with the same SQLITE_FULL."""
    shop = await sqlite.create_shop("Full (invented)")
    big = {**vehicle(), "details": b'"' + b"x" * 200_000 + b'"'}

    def limit(pages: int) -> Any:
        def work(scope: ShopScope) -> int:
            connection = scope._connection
            connection.exec_driver_sql(f"PRAGMA max_page_count = {pages}")
            return int(connection.exec_driver_sql("PRAGMA page_count").scalar_one())

        return work

    pages = await sqlite.write(shop, limit(4_000_000))
    await sqlite.write(shop, limit(pages + 20))
    writes = [sqlite.write(shop, lambda s: VEHICLES.create(s, big)) for _ in range(3)]
    results = await asyncio.gather(*writes, return_exceptions=True)
    assert all(isinstance(result, StoreUnavailable) for result in results), results
    assert (await sqlite.read(shop, lambda s: VEHICLE_LIST.page(s, {}))).items == []
    await sqlite.write(shop, limit(4_000_000))
    await sqlite.write(shop, lambda s: VEHICLES.create(s, big))
    assert len((await sqlite.read(shop, lambda s: VEHICLE_LIST.page(s, {}))).items) == 1
    await sqlite.ready()


async def test_a_file_that_cannot_be_written_is_not_ready(
    sqlite: SqliteStore, sqlite_url: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Another process that keeps the write lock for good: the wait ends with 'unavailable'."""
    path = Path(str(make_url(sqlite_url).database))
    await sqlite.write(await sqlite.create_shop("x"), lambda s: s.scalars)
    with sqlite._writer.connect() as connection:  # shorten the wait of the writer's connection
        connection.exec_driver_sql("COMMIT")
        connection.exec_driver_sql("PRAGMA busy_timeout = 50")
        connection.exec_driver_sql("BEGIN IMMEDIATE")
    other = sqlite3.connect(path, isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    with pytest.raises(StoreUnavailable):
        await sqlite.ready()
    other.execute("ROLLBACK")
    other.close()
    await sqlite.ready()


def test_a_new_file_is_waited_for_while_another_process_makes_it(tmp_path: Path) -> None:
    """SQLite's own patience does not hold for the switch to WAL mode; two starts met there."""
    path = tmp_path / "new.sqlite3"
    other = sqlite3.connect(path, isolation_level=None, check_same_thread=False)
    other.execute("BEGIN IMMEDIATE")
    release = threading.Timer(0.2, other.execute, ["ROLLBACK"])
    release.start()
    engine = engine_of(str(path), writes=True)
    with engine.begin() as connection:
        connection.exec_driver_sql("CREATE TABLE made (id)")
    release.join()
    engine.dispose()
    other.close()


async def test_work_that_was_queued_is_done_before_closing(sqlite_url: str) -> None:
    store = SqliteStore(sqlite_url)
    await store.open()
    shop = await store.create_shop("Last (invented)")
    writes = [
        asyncio.ensure_future(store.write(shop, lambda s: VEHICLES.create(s, vehicle())))
        for _ in range(30)
    ]
    await asyncio.sleep(0)
    await store.close()
    assert len([await write for write in writes]) == 30
    with pytest.raises(StoreUnavailable):
        await store.write(shop, lambda s: None)
