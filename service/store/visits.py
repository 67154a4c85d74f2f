"""Visits of a vehicle to the shop, and what is only allowed while one is open."""

from datetime import datetime
from typing import Any
from uuid import UUID

import msgspec
import sqlalchemy as sa

from service.store.binding import of_shop
from service.store.entities import Kind
from service.store.errors import Conflict
from service.store.pages import Listing
from service.store.scope import ShopScope
from service.store.tables import vehicles, visits
from service.store.vehicles import VEHICLES

OPEN = "open"
CLOSED = "closed"


class VisitRecord(msgspec.Struct):
    """A row of `visits`; `details` is JSON as the door encoded it."""

    id: UUID
    vehicle_id: UUID
    state: str
    visited_at: datetime
    odometer: int | None
    odometer_unit: str | None
    details: bytes
    closed_at: datetime | None
    created_at: datetime
    updated_at: datetime
    revision: int
    deleted_at: datetime | None


class _Visits(Kind[VisitRecord]):
    """Visits stand on a vehicle that is there."""

    def create(
        self, scope: ShopScope, content: dict[str, Any], id: UUID | None = None
    ) -> VisitRecord:
        """Make a visit of a vehicle that is there; NotFound names the vehicle otherwise."""
        VEHICLES.get(scope, content["vehicle_id"])
        return super().create(scope, content, id)

    def get_open(self, scope: ShopScope, id: UUID) -> VisitRecord:
        """The visit, which stays open until this transaction ends; Conflict if it is closed."""
        visit = self.get(scope, id, locked=True)
        if visit.state != OPEN:
            raise Conflict("The visit is closed; reopen it first, with a reason.")
        return visit


class _VisitList(Listing[VisitRecord]):
    """Visits are also found by what their vehicle is called."""

    def equal_to(self, name: str) -> sa.ColumnElement[bool]:
        """`unit_number` and `vin` are the vehicle's, all others the visit's own."""
        if name not in ("unit_number", "vin"):
            return super().equal_to(name)
        named = of_shop(
            sa.select(vehicles.c.id).where(
                vehicles.c[name] == sa.bindparam(name), vehicles.c.deleted_at.is_(None)
            )
        )
        return visits.c.vehicle_id.in_(named.statement)


VISITS = _Visits("visit", visits, VisitRecord)
VISIT_LIST = _VisitList(visits, VisitRecord, "visited_at")
