"""Rows to store in tests: an invented vehicle, its visit and a round of it."""

from datetime import UTC, datetime, timedelta
from typing import Any
from uuid import UUID

from service.store.database import Store
from service.store.scope import ShopScope
from service.store.vehicles import VEHICLES
from service.store.visits import VISITS, VisitRecord

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
