"""Events are written with what they tell of, and their numbers follow the commits."""

import asyncio
from uuid import UUID

import pytest
from stored import made_visit, round_of, vehicle

from service.store import events, rounds
from service.store.database import Store, open_store
from service.store.scope import ShopScope
from service.store.vehicles import VEHICLES

pytestmark = pytest.mark.anyio


async def test_every_step_of_a_life_is_told_in_order(store: Store, shop: UUID) -> None:
    made = await made_visit(store, shop)
    await store.write(shop, lambda s: rounds.add(s, round_of(made.id)))
    await store.write(shop, lambda s: VEHICLES.delete(s, made.vehicle_id, 1))
    await store.write(shop, lambda s: VEHICLES.restore(s, made.vehicle_id))
    told = await store.read(shop, lambda s: events.after(s, 0, 100))
    assert [(event.sequence, event.type) for event in told] == [
        (1, "vehicle.created"),
        (2, "visit.created"),
        (3, "round.created"),
        (4, "vehicle.deleted"),
        (5, "vehicle.restored"),
    ]


async def test_a_reader_never_meets_a_smaller_number_later(store: Store, shop: UUID) -> None:
    """While many write, whoever has read up to n has read everything up to n.

    With numbers from a sequence this fails: a transaction that took 7 can commit after the one
    that took 8, and the reader of 8 would never see 7.
    """
    writers, each = 12, 15
    done = asyncio.Event()
    seen: list[int] = []

    async def write(writer: int) -> None:
        for turn in range(each):

            def work(scope: ShopScope, turn: int = turn) -> None:
                number = f"{writer}-{turn}"
                VEHICLES.create(scope, vehicle(number))
                if (writer + turn) % 3 == 0:
                    VEHICLES.create(scope, vehicle(number + "b"))

            await store.write(shop, work)

    async def read() -> None:
        last = 0
        while True:
            finished = done.is_set()
            after = last
            for event in await store.read(shop, lambda s, after=after: events.after(s, after, 100)):
                seen.append(event.sequence)
                last = event.sequence
            if finished and last == after:
                return

    reader = asyncio.create_task(read())
    await asyncio.gather(*[write(writer) for writer in range(writers)])
    done.set()
    await reader
    assert seen == list(range(1, writers * each + writers * each // 3 + 1))
    assert await store.read(shop, events.last_sequence) == len(seen)


async def test_numbers_follow_the_commits_over_two_connections(
    migrated_postgres_url: str,
) -> None:
    """A second process waits for the first one's commit before it gets the next number."""
    one, two = open_store(migrated_postgres_url), open_store(migrated_postgres_url)
    await one.open()
    await two.open()
    shop = await one.create_shop("Shared (invented)")
    await asyncio.gather(
        *[(one, two)[n % 2].write(shop, lambda s: VEHICLES.create(s, vehicle())) for n in range(40)]
    )
    told = await one.read(shop, lambda s: events.after(s, 0, 100))
    await one.close()
    await two.close()
    assert [event.sequence for event in told] == list(range(1, 41))
