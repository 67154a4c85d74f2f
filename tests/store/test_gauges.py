"""What the store tells an operator about itself: how busy it is, and what it still owes."""

from datetime import timedelta
from uuid import UUID

import pytest
import sqlalchemy as sa
from stored import vehicle

from service.store import webhooks
from service.store.database import Store, open_store
from service.store.scope import ShopScope
from service.store.vehicles import VEHICLES
from service.store.webhooks import ENDPOINTS, PENDING

pytestmark = pytest.mark.anyio

HOOK = {
    "url": "https://shop.example/hook",
    "description": "",
    "event_types": b"[]",
    "secrets": b"[]",
    "enabled": True,
    "seen": 0,
}


async def test_an_idle_store_uses_no_connection(store: Store) -> None:
    await store.ready()
    gauges = store.gauges()
    assert gauges["database_connections_in_use"] == 0
    assert gauges["database_connections_open"] >= 1
    assert gauges["database_work_waiting"] == 0


async def test_no_more_connections_are_held_than_were_allowed(migrated_postgres_url: str) -> None:
    store = open_store(migrated_postgres_url, 2)
    assert store._engine.pool.size() == 2  # type: ignore[attr-defined]
    await store.close()


async def test_a_delivery_that_is_overdue_is_counted_with_how_late_it_is(
    store: Store, shop: UUID
) -> None:
    before, _ = await store.outbox()

    def owe(scope: ShopScope) -> None:
        ENDPOINTS.create(scope, HOOK)
        VEHICLES.create(scope, vehicle())

    def late(scope: ShopScope) -> None:
        webhooks.spread_events(scope)
        for owed in webhooks.deliveries(scope, PENDING, 10):
            webhooks.settle(scope, owed, PENDING, scope.now - timedelta(minutes=3), None, None)

    await store.write(shop, owe)
    await store.write(shop, late)
    pending, lag = await store.outbox()
    assert pending == before + 2  # of the endpoint itself and of the vehicle
    assert 180 <= lag < 240

    def deliver(scope: ShopScope) -> None:
        for owed in webhooks.deliveries(scope, PENDING, 10):
            webhooks.settle(scope, owed, webhooks.DELIVERED, scope.now, 200, None)

    await store.write(shop, deliver)
    assert (await store.outbox())[0] == before


async def test_a_failed_statement_does_not_carry_what_a_shop_stores(
    store: Store, shop: UUID
) -> None:
    """The driver's error ends in the log, and the row in it would too."""

    def work(scope: ShopScope) -> None:
        scope._connection.execute(sa.text("SELECT no_such_function(:secret)"), {"secret": "hush"})

    with pytest.raises(sa.exc.DBAPIError) as caught:
        await store.read(shop, work)
    assert "hush" not in str(caught.value)
