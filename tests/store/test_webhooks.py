"""Deliveries are owed once to each endpoint and claimed by one sender at a time."""

import asyncio
from datetime import timedelta
from typing import Any
from uuid import UUID

import pytest
from stored import vehicle

from service.store import events, webhooks
from service.store.database import Store
from service.store.scope import ShopScope
from service.store.vehicles import VEHICLES
from service.store.webhooks import DEAD, DELIVERED, ENDPOINTS, LEASE, PENDING

pytestmark = pytest.mark.anyio


def endpoint(scope: ShopScope, types: bytes = b"[]", enabled: bool = True) -> dict[str, Any]:
    return {
        "url": "https://shop.example/hook",
        "description": "",
        "event_types": types,
        "secrets": b"[]",
        "enabled": enabled,
        "seen": events.last_sequence(scope),
    }


async def test_an_event_is_owed_once_to_each_endpoint_that_wants_it(
    store: Store, shop: UUID
) -> None:
    def three(scope: ShopScope) -> None:
        ENDPOINTS.create(scope, endpoint(scope))
        ENDPOINTS.create(scope, endpoint(scope, b'["visit.created"]'))
        ENDPOINTS.create(scope, endpoint(scope, enabled=False))

    await store.write(shop, three)
    await store.write(shop, webhooks.spread_events)
    for delivery in await store.write(shop, lambda s: webhooks.claim_due(s, 100)):
        await store.write(
            shop, lambda s, d=delivery: webhooks.settle(s, d, DELIVERED, s.now, 204, None)
        )
    await store.write(shop, lambda s: VEHICLES.create(s, vehicle()))
    made = await asyncio.gather(*[store.write(shop, webhooks.spread_events) for _ in range(4)])
    assert sum(made) == 1
    due = await store.write(shop, lambda s: webhooks.claim_due(s, 100))
    assert len(due) == 1


async def one_due(store: Store, shop: UUID) -> None:
    await store.write(shop, lambda s: ENDPOINTS.create(s, endpoint(s)))
    await store.write(shop, webhooks.spread_events)


async def test_a_due_delivery_is_claimed_by_one_sender(store: Store, shop: UUID) -> None:
    await one_due(store, shop)
    claims = await asyncio.gather(
        *[store.write(shop, lambda s: webhooks.claim_due(s, 10)) for _ in range(5)]
    )
    assert sum(len(claim) for claim in claims) == 1


async def test_a_claim_whose_sender_died_comes_due_again(store: Store, shop: UUID) -> None:
    await one_due(store, shop)
    assert len(await store.write(shop, lambda s: webhooks.claim_due(s, 10))) == 1

    def later(scope: ShopScope) -> int:
        scope.now += LEASE + timedelta(seconds=1)
        return len(webhooks.claim_due(scope, 10))

    assert await store.write(shop, later) == 1


async def test_a_dead_delivery_is_listed_and_can_be_sent_again(store: Store, shop: UUID) -> None:
    await one_due(store, shop)
    [claimed] = await store.write(shop, lambda s: webhooks.claim_due(s, 10))
    await store.write(shop, lambda s: webhooks.settle(s, claimed, DEAD, s.now, 500, "answered 500"))
    [dead] = await store.read(shop, lambda s: webhooks.deliveries(s, DEAD, 10))
    assert (dead.attempts, dead.last_status, dead.last_error) == (1, 500, "answered 500")
    again = await store.write(shop, lambda s: webhooks.resend(s, dead.id))
    assert (again.state, again.attempts) == (PENDING, 0)
    assert len(await store.write(shop, lambda s: webhooks.claim_due(s, 10))) == 1
