"""What is kept for a time only is forgotten when the time is over, in every shop."""

import asyncio
import logging
from datetime import timedelta
from typing import Any
from uuid import UUID

import pytest
import sqlalchemy as sa
from served import app_of, client_of

from service.api import housekeeper
from service.api.housekeeper import Housekeeper
from service.store.database import Store
from service.store.idempotency import AT_ONCE, LIFE
from service.store.scope import ShopScope
from service.store.tables import idempotency_keys, webhook_deliveries
from service.store.webhooks import DEAD, DELIVERED, DELIVERED_LIFE

pytestmark = pytest.mark.anyio


def counted(table: sa.Table) -> Any:
    def work(scope: ShopScope) -> int:
        query = sa.select(sa.func.count()).where(table.c.shop_id == scope.shop)
        return int(scope._connection.execute(query).scalar_one())

    return work


def kept(scope: ShopScope, name: str, age: timedelta) -> None:
    """An answer that was given so long ago."""
    scope.insert(
        idempotency_keys,
        {
            "key": name,
            "fingerprint": b"f",
            "status": 201,
            "headers": b"{}",
            "body": b"",
            "expires_at": scope.now - age + LIFE,
        },
    )


async def test_answers_older_than_a_day_are_forgotten_in_every_shop(store: Store) -> None:
    """More of them than one piece of work takes; a younger answer stays."""
    shops = [await store.create_shop("Kept (invented)") for _ in range(2)]

    def fill(scope: ShopScope) -> None:
        for number in range(AT_ONCE + 3):
            kept(scope, f"old-{number}", LIFE + timedelta(seconds=1))
        kept(scope, "young", LIFE - timedelta(minutes=5))

    for shop in shops:
        await store.write(shop, fill)
    assert await Housekeeper(store).tidy() >= 2 * (AT_ONCE + 3)
    for shop in shops:
        assert await store.read(shop, counted(idempotency_keys)) == 1


@pytest.mark.parametrize(
    ("state", "age", "left"),
    [
        (DELIVERED, DELIVERED_LIFE + timedelta(days=1), 0),
        (DELIVERED, DELIVERED_LIFE - timedelta(days=1), 1),
        (DEAD, DELIVERED_LIFE + timedelta(days=1), 1),
    ],
    ids=["delivered long ago", "delivered lately", "dead"],
)
async def test_deliveries_are_forgotten_once_they_arrived_and_are_old(
    store: Store, state: str, age: timedelta, left: int
) -> None:
    async with client_of(app_of(store), store) as client:
        await client.made("/v1/webhook-endpoints", {"url": "https://shop.example/hook"})
        shop: UUID = client.shop  # type: ignore[attr-defined]

    def deliver(scope: ShopScope) -> None:
        from service.store.webhooks import spread_events

        assert spread_events(scope) == 1

    def age_it(scope: ShopScope) -> None:
        change = {"state": state, "created_at": scope.now - age}
        own = webhook_deliveries.c.shop_id == scope.shop
        scope._connection.execute(sa.update(webhook_deliveries).where(own).values(change))

    await store.write(shop, deliver)
    await store.write(shop, age_it)
    await Housekeeper(store).tidy()
    assert await store.read(shop, counted(webhook_deliveries)) == left


async def test_it_runs_by_itself_and_outlives_a_fault(
    store: Store, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    shop = await store.create_shop("Kept (invented)")
    await store.write(shop, lambda s: kept(s, "old", LIFE + timedelta(seconds=1)))
    monkeypatch.setattr(housekeeper, "FIRST_SECONDS", 0.0)
    monkeypatch.setattr(housekeeper, "EVERY_SECONDS", 0.01)
    tries = 0
    first = Housekeeper(store)
    every_shop = store.every_shop

    async def once_broken() -> list[UUID]:
        nonlocal tries
        tries += 1
        if tries == 1:
            raise RuntimeError("nobody foresaw this")
        return await every_shop()

    monkeypatch.setattr(store, "every_shop", once_broken)
    log = logging.getLogger("service")
    log.addHandler(caplog.handler)  # the service's own logging ends at this logger
    first.start()
    for _ in range(500):
        if await store.read(shop, counted(idempotency_keys)) == 0:
            break
        await asyncio.sleep(0.02)
    await first.stop()
    log.removeHandler(caplog.handler)
    assert await store.read(shop, counted(idempotency_keys)) == 0
    assert "nobody foresaw this" in caplog.text
