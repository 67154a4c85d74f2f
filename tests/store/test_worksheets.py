"""Issued worksheets: numbered within the shop, never changed, and issued once."""

from uuid import UUID

import pytest
import sqlalchemy as sa
from stored import made_visit

from service.store import worksheets
from service.store.binding import of_shop
from service.store.database import Store
from service.store.errors import NotFound
from service.store.tables import worksheets as table

pytestmark = pytest.mark.anyio


def stating(text: str):
    return lambda number: b'{"number":"%d","text":"%s"}' % (number, text.encode())


async def issued(store: Store, shop: UUID, visit: UUID, text: str) -> worksheets.WorksheetRecord:
    rounds = (UUID(int=1), None)
    return await store.write(shop, lambda s: worksheets.add(s, visit, rounds, stating(text)))


async def test_sheets_are_numbered_within_the_shop_and_a_repeated_one_is_the_same(
    store: Store, shop: UUID
) -> None:
    one, other = [await made_visit(store, shop) for _ in range(2)]
    first = await issued(store, shop, one.id, "a")
    assert await issued(store, shop, one.id, "a") == first
    second = await issued(store, shop, other.id, "a")
    third = await issued(store, shop, one.id, "b")
    assert [each.number for each in (first, second, third)] == [1, 2, 3]
    assert await store.read(shop, lambda s: worksheets.of_visit(s, one.id)) == [first, third]
    assert await store.read(shop, lambda s: worksheets.get(s, one.id, third.id)) == third
    with pytest.raises(NotFound, match="worksheet"):
        await store.read(shop, lambda s: worksheets.get(s, one.id, second.id))


async def test_the_database_refuses_to_change_or_to_delete_a_sheet(
    store: Store, shop: UUID
) -> None:
    visit = await made_visit(store, shop)
    sheet = await issued(store, shop, visit.id, "a")
    for change in (sa.update(table).values(number=9), sa.delete(table)):
        with pytest.raises(Exception, match=r"contradicts|permission denied"):
            await store.write(shop, lambda s, change=change: s.run(of_shop(change)))
    assert await store.read(shop, lambda s: worksheets.of_visit(s, visit.id)) == [sheet]
