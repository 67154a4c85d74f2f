"""A shop's take-out goes into an empty database of either kind and comes out again the same."""

import itertools
import shutil
from pathlib import Path
from uuid import UUID

import msgspec
import pytest
from stored import filled, made_visit, vehicle

from service.store.database import Store, open_store
from service.store.errors import Conflict, NotFound
from service.store.takeout import PAGE, TABLES, TakeoutError, lines_of, shop_in, take_in
from service.store.vehicles import VEHICLES

pytestmark = pytest.mark.anyio


async def lines(store: Store, shop: UUID) -> list[bytes]:
    return await store.snapshot(shop, lambda s: list(lines_of(s)))


async def test_the_round_trip_is_equal_between_every_two_kinds(
    sqlite_url: str, migrated_postgres_url: str, migrated_sqlite_file: Path, tmp_path: Path
) -> None:
    """SQLite to PostgreSQL, and from there to another SQLite: byte for byte the same lines."""
    second = tmp_path / "second.sqlite3"
    shutil.copy(migrated_sqlite_file, second)
    stores = [open_store(u) for u in (sqlite_url, migrated_postgres_url, f"sqlite:///{second}")]
    for store in stores:
        await store.open()
    shop = await filled(stores[0], PAGE + 1)  # more than one page of the take-out
    first = await lines(stores[0], shop)
    tables = {msgspec.json.decode(line)["table"] for line in first[1:-1]}
    assert tables == {table.name for table in TABLES}
    for source, target in itertools.pairwise(stores):
        out = await lines(source, shop)
        id, name = shop_in(out[0])
        await target.create_shop(name, id)
        rest = out[1:]
        assert await target.write(id, lambda s, rest=rest: take_in(s, rest)) == len(out) - 2
        assert await lines(target, shop) == first
    more = await stores[2].write(shop, lambda s: VEHICLES.create(s, vehicle("next")))
    assert more.revision == 1
    for store in stores:
        await store.close()


@pytest.mark.parametrize("harm", ["cut", "twice", "odd", "count", "after"])
async def test_a_harmed_file_leaves_nothing(store: Store, sqlite_url: str, harm: str) -> None:
    source = open_store(sqlite_url)
    await source.open()
    shop = await filled(source, 3)
    good = (await lines(source, shop))[1:]
    await source.close()
    id = await store.create_shop("Empty (invented)")
    bad = {
        "cut": good[:-1],
        "twice": [*good[:-1], good[3], good[-1]],
        "odd": [*good[:2], b'{"table":"passwords","row":{}}\n', *good[2:]],
        "count": [*good[:-2], good[-1]],
        "after": [*good, good[-1]],
    }[harm]
    with pytest.raises((TakeoutError, Conflict)):
        await store.write(id, lambda s: take_in(s, bad))
    left = await lines(store, id)
    assert len(left) == 5  # head, three counters, tail: a shop without data


async def test_a_file_without_a_counter_that_came_later_counts_from_one(
    store: Store, sqlite_url: str
) -> None:
    source = open_store(sqlite_url)
    await source.open()
    shop = await source.create_shop("Earlier (invented)")
    out = await lines(source, shop)
    await source.close()
    older = [line for line in out[1:-1] if b'"worksheet"' not in line]
    assert len(older) == len(out) - 3
    await store.create_shop("Earlier (invented)", shop)
    tail = b'{"rows":%d}\n' % len(older)
    await store.write(shop, lambda s: take_in(s, [*older, tail]))
    assert await store.write(shop, lambda s: s.count("worksheet")) == 1


async def test_nothing_is_taken_into_a_shop_with_data(store: Store, shop: UUID) -> None:
    await made_visit(store, shop)
    out = await lines(store, shop)
    with pytest.raises(TakeoutError, match="has data here already"):
        await store.write(shop, lambda s: take_in(s, out[1:]))


@pytest.mark.parametrize("head", [b"", b"{}", b'{"format":"x","version":1,"shop":"1","name":""}'])
def test_a_file_of_something_else_is_refused(head: bytes) -> None:
    with pytest.raises(TakeoutError, match="line 1"):
        shop_in(head)


async def test_an_unknown_shop_has_no_lines(store: Store) -> None:
    with pytest.raises((NotFound, IndexError)):
        await lines(store, UUID(int=1))
