"""Vehicles and visits: made, changed against a revision, deleted softly, restored, listed."""

import asyncio
from datetime import UTC, timedelta
from typing import Any
from uuid import UUID, uuid4

import pytest
from stored import LATER, NOON, made_visit, round_of, vehicle, visit

from service.store import events, rounds
from service.store.database import Store
from service.store.errors import BadCursor, Conflict, NotFound, RevisionNeeded, StaleRevision
from service.store.scope import ShopScope
from service.store.vehicles import VEHICLE_LIST, VEHICLES, VehicleRecord
from service.store.visits import VISIT_LIST, VISITS

pytestmark = pytest.mark.anyio


async def test_what_is_stored_comes_back_equal(store: Store, shop: UUID) -> None:
    """Texts beyond ASCII, microseconds and bytes of JSON survive either database."""
    made = await made_visit(store, shop)
    assert await store.read(shop, lambda s: VISITS.get(s, made.id)) == made
    assert made.visited_at == NOON
    assert made.visited_at.tzinfo is UTC


async def test_a_change_raises_the_revision(store: Store, shop: UUID) -> None:
    made = await store.write(shop, lambda s: VEHICLES.create(s, vehicle()))
    changed = await store.write(
        shop, lambda s: VEHICLES.change(s, made.id, 1, {"unit_number": "4712"})
    )
    assert (changed.revision, changed.unit_number) == (2, "4712")
    assert changed.updated_at > made.updated_at


async def test_of_two_writers_on_one_revision_one_wins(store: Store, shop: UUID) -> None:
    """Both have read revision 1; the second is told what the revision is now."""
    made = await store.write(shop, lambda s: VEHICLES.create(s, vehicle()))

    def change(number: str) -> Any:
        content = {"unit_number": number}
        return store.write(shop, lambda s: VEHICLES.change(s, made.id, 1, content))

    results = await asyncio.gather(*[change(str(i)) for i in range(8)], return_exceptions=True)
    winners = [r for r in results if isinstance(r, VehicleRecord)]
    losers = [r for r in results if isinstance(r, StaleRevision)]
    assert (len(winners), len(losers)) == (1, 7)
    assert {loser.current for loser in losers} == {2}
    now = await store.read(shop, lambda s: VEHICLES.get(s, made.id))
    assert now == winners[0]


async def test_a_deleted_thing_is_not_found_until_it_is_restored(store: Store, shop: UUID) -> None:
    made = await store.write(shop, lambda s: VEHICLES.create(s, vehicle()))
    await store.write(shop, lambda s: VEHICLES.delete(s, made.id, 1))
    with pytest.raises(NotFound, match="No such vehicle"):
        await store.read(shop, lambda s: VEHICLES.get(s, made.id))
    with pytest.raises(NotFound):
        await store.write(shop, lambda s: VEHICLES.delete(s, made.id, 2))
    page = await store.read(shop, lambda s: VEHICLE_LIST.page(s, {}))
    assert page.items == []
    back = await store.write(shop, lambda s: VEHICLES.restore(s, made.id))
    assert (back.revision, back.deleted_at) == (3, None)


async def test_putting_the_same_twice_changes_nothing(store: Store, shop: UUID) -> None:
    id = uuid4()
    first = await store.write(shop, lambda s: VEHICLES.put(s, id, vehicle(), None))
    again = await store.write(shop, lambda s: VEHICLES.put(s, id, vehicle(), None))
    assert first == (again[0], True)
    assert again[1] is False


async def test_putting_another_content_needs_the_revision(store: Store, shop: UUID) -> None:
    id = uuid4()
    await store.write(shop, lambda s: VEHICLES.put(s, id, vehicle(), None))
    with pytest.raises(RevisionNeeded):
        await store.write(shop, lambda s: VEHICLES.put(s, id, vehicle("5"), None))
    with pytest.raises(StaleRevision):
        await store.write(shop, lambda s: VEHICLES.put(s, id, vehicle("5"), 7))
    record, new = await store.write(shop, lambda s: VEHICLES.put(s, id, vehicle("5"), 1))
    assert (record.unit_number, record.revision, new) == ("5", 2, False)


async def test_two_who_put_one_id_at_once_make_one_thing(store: Store, shop: UUID) -> None:
    id = uuid4()
    results = await asyncio.gather(
        *[store.write(shop, lambda s: VEHICLES.put(s, id, vehicle(), None)) for _ in range(6)]
    )
    assert sorted(new for _, new in results) == [False] * 5 + [True]


async def test_a_round_needs_an_open_visit(store: Store, shop: UUID) -> None:
    made = await made_visit(store, shop)
    await store.write(shop, lambda s: VISITS.change(s, made.id, 1, {"state": "closed"}))
    with pytest.raises(Conflict, match="reopen"):
        await store.write(shop, lambda s: rounds.add(s, round_of(made.id)))


async def test_a_round_is_kept_letter_by_letter(store: Store, shop: UUID) -> None:
    """The two blanks in the request as sent are there when it is read."""
    made = await made_visit(store, shop)
    added = await store.write(shop, lambda s: rounds.add(s, round_of(made.id)))
    read = await store.read(shop, lambda s: rounds.get(s, made.id, added.id))
    assert read == added
    assert read.request == b'{"length_unit": "in",  "readings": []}'


async def test_a_vehicles_rounds_are_its_newest_however_many_visits_they_are_of(
    store: Store, shop: UUID
) -> None:
    """More visits than one query asks for; no other vehicle's, and no deleted visit's."""

    def fill(scope: ShopScope) -> tuple[UUID, list[UUID]]:
        own, other = VEHICLES.create(scope, vehicle("1")), VEHICLES.create(scope, vehicle("2"))
        made = []
        for day in range(rounds.DAYS_AT_ONCE * 2 + 3):
            at = NOON + timedelta(days=day)
            for whose in (own, other):
                there = VISITS.create(scope, visit(whose.id, at))
                for label, hour in (("before", 1), ("after", 2)):
                    when = {"taken_at": at + timedelta(hours=hour)}
                    added = rounds.add(scope, {**round_of(there.id, label), **when})
                    if whose is own:
                        made.append(added.id)
        gone = VISITS.create(scope, visit(own.id, LATER))
        rounds.add(scope, round_of(gone.id))
        VISITS.delete(scope, gone.id, 1)
        return own.id, made[::-1]

    own, newest_first = await store.write(shop, fill)
    for limit in (1, 5, 41, 200):
        found = await store.read(shop, lambda s, n=limit: rounds.of_vehicle(s, own, n))
        assert [one.id for one in found] == newest_first[:limit]
    assert found[0].visited_at + timedelta(hours=2) == found[0].taken_at


async def test_a_refused_unit_of_work_leaves_nothing(store: Store, shop: UUID) -> None:
    made = await store.write(shop, lambda s: VEHICLES.create(s, vehicle()))

    def half(scope: ShopScope) -> None:
        VEHICLES.change(scope, made.id, 1, {"unit_number": "half"})
        raise Conflict("enough")

    with pytest.raises(Conflict, match="enough"):
        await store.write(shop, half)
    assert await store.read(shop, lambda s: VEHICLES.get(s, made.id)) == made
    told = await store.read(shop, lambda s: events.after(s, 0, 10))
    assert [event.type for event in told] == ["vehicle.created"]


async def test_pages_hold_every_row_once_while_rows_arrive(store: Store, shop: UUID) -> None:
    """Rows made between two pages neither repeat a row nor hide one."""
    own = await store.write(shop, lambda s: VEHICLES.create(s, vehicle()))

    def fill(scope: ShopScope) -> list[UUID]:
        days = [NOON + timedelta(days=day // 3) for day in range(25)]  # three share an instant
        return [VISITS.create(scope, visit(own.id, day)).id for day in days]

    made = await store.write(shop, fill)
    seen: list[UUID] = []
    cursor = None
    while True:
        here = cursor
        page = await store.read(
            shop, lambda s, here=here: VISIT_LIST.page(s, {}, cursor=here, limit=4)
        )
        seen += [item.id for item in page.items]
        await store.write(shop, lambda s: VISITS.create(s, visit(own.id, LATER)))
        cursor = page.next_cursor
        if cursor is None:
            break
    assert sorted(seen) == sorted(made)


async def test_filters_find_by_unit_number_vin_date_and_state(store: Store, shop: UUID) -> None:
    def fill(scope: ShopScope) -> list[UUID]:
        one = VEHICLES.create(scope, vehicle("17", "1M8GDM9AXKP042788"))
        two = VEHICLES.create(scope, vehicle("18"))
        a = VISITS.create(scope, visit(one.id, NOON))
        b = VISITS.create(scope, visit(two.id, NOON + timedelta(days=1)))
        c = VISITS.create(scope, visit(one.id, NOON + timedelta(days=2), "closed"))
        return [a.id, b.id, c.id]

    a, b, c = await store.write(shop, fill)

    async def found(equal: dict[str, Any], **times: Any) -> list[UUID]:
        page = await store.read(shop, lambda s: VISIT_LIST.page(s, equal, **times))
        return [item.id for item in page.items]

    assert await found({"unit_number": "17"}) == [c, a]
    assert await found({"vin": "1M8GDM9AXKP042788", "state": "open"}) == [a]
    assert await found({"state": "open"}) == [b, a]
    assert await found({}, since=NOON + timedelta(days=1)) == [c, b]
    assert await found({}, until=NOON + timedelta(days=1)) == [a]
    assert await found({"unit_number": "nobody"}) == []


async def test_a_cursor_of_another_filter_or_shop_is_refused(store: Store, shop: UUID) -> None:
    def fill(scope: ShopScope) -> None:
        for number in range(3):
            VEHICLES.create(scope, vehicle(str(number)))

    await store.write(shop, fill)
    page = await store.read(shop, lambda s: VEHICLE_LIST.page(s, {}, limit=1))
    cursor = page.next_cursor
    assert cursor is not None
    other = await store.create_shop("Another shop (invented)")
    spoilt = cursor[:-2] + ("AA" if cursor[-2:] != "AA" else "BB")
    tries: list[tuple[UUID, dict[str, Any], str]] = [
        (shop, {"unit_number": "1"}, cursor),
        (other, {}, cursor),
        (shop, {}, spoilt),
        (shop, {}, "nonsense"),
        (shop, {}, ""),
    ]
    for who, equal, text in tries:
        with pytest.raises(BadCursor):
            await store.read(who, lambda s, e=equal, t=text: VEHICLE_LIST.page(s, e, cursor=t))
