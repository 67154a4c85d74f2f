"""Rows to store in tests: an invented vehicle, its visit and a round of it."""

from datetime import UTC, datetime, timedelta
from typing import Any
from uuid import UUID

from service.store import keys, line_item_lists, rounds, webhooks, worksheets
from service.store.database import Store
from service.store.idempotency import keep_answer
from service.store.scope import ShopScope
from service.store.vehicles import VEHICLES
from service.store.versioned import RATE_CARDS, TARGET_SETS
from service.store.visits import VISITS, VisitRecord
from service.store.webhooks import ENDPOINTS

NOON = datetime(2026, 3, 14, 12, 0, 0, 123456, tzinfo=UTC)
LATER = NOON + timedelta(days=400)


def vehicle(number: str = "4711", vin: str | None = None) -> dict[str, Any]:
    return {"unit_number": number, "vin": vin, "layout": b'{"unit":"tractor"}', "details": b"{}"}


def visit(vehicle_id: UUID, at: datetime = NOON, state: str = "open") -> dict[str, Any]:
    return {
        "vehicle_id": vehicle_id,
        "state": state,
        "visited_at": at,
        "odometer": 412_000,
        "odometer_unit": "mi",
        "details": '{"complaint":"zieht nach rechts, 0°15′"}'.encode(),
        "closed_at": None,
    }


def round_of(visit_id: UUID, label: str = "before") -> dict[str, Any]:
    return {
        "visit_id": visit_id,
        "label": label,
        "taken_at": NOON,
        "request": b'{"length_unit": "in",  "readings": []}',
        "solution": b'{"axles":[]}',
        "target_set": None,
        "target_set_version": None,
        "engine": "0.1.0",
    }


async def made_visit(store: Store, shop: UUID) -> VisitRecord:
    def work(scope: ShopScope) -> VisitRecord:
        return VISITS.create(scope, visit(VEHICLES.create(scope, vehicle()).id))

    return await store.write(shop, work)


async def filled(store: Store, vehicles: int = 1) -> UUID:
    """A shop with something in every table, deleted things among it."""
    shop = await store.create_shop("Take-out (invented, é \u2028 ✓)")
    made = await made_visit(store, shop)

    def work(scope: ShopScope) -> None:
        for label in ("before", "after"):
            rounds.add(scope, round_of(made.id, label))
        for number in range(vehicles):
            VEHICLES.create(scope, vehicle(str(number)))
        keys.create(scope, "till", ["read"], None)
        keep_answer(scope, "kept", b"fingerprint", 201, b"{}", b"{}")

    await store.write(shop, work)
    await store.write(shop, lambda s: VISITS.change(s, made.id, 1, {"closed_at": LATER}))
    gone = await store.write(shop, lambda s: VEHICLES.create(s, vehicle("gone")))
    await store.write(shop, lambda s: VEHICLES.delete(s, gone.id, 1))
    for of_kind in (TARGET_SETS, RATE_CARDS):
        await store.write(shop, lambda s, of=of_kind: of.put(s, "own", b'{ "rows": [1] }', None))
        await store.write(shop, lambda s, of=of_kind: of.put(s, "own", b'{"rows":[2]}', 1))
    await store.write(shop, lambda s: line_item_lists.add(s, made.id, b'{"total":"1.00"}'))
    sheet = b'{"number":"1"}'
    await store.write(shop, lambda s: worksheets.add(s, made.id, (made.id, None), lambda _: sheet))
    content = {
        "url": "https://shop.example/hook",
        "description": "",
        "event_types": b"[]",
        "secrets": b"[]",
        "enabled": True,
        "seen": 2,
    }
    await store.write(shop, lambda s: ENDPOINTS.create(s, content))
    await store.write(shop, webhooks.spread_events)
    return shop
