"""Visits of a vehicle to the shop, and what is only allowed while one is open."""

from datetime import datetime
from functools import lru_cache
from heapq import merge
from itertools import islice
from typing import Any
from uuid import UUID

import msgspec
import sqlalchemy as sa

from service.store.binding import ShopStatement, of_shop
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

    def rows(
        self,
        scope: ShopScope,
        equal: dict[str, Any],
        between: tuple[datetime | None, datetime | None],
        place: tuple[datetime, UUID] | None,
        limit: int,
    ) -> list[VisitRecord]:
        """Each vehicle's visits come in order from the index and are merged.

        One query over the join would leave the planner the choice to walk through all visits of
        the shop until enough of the vehicle have gone by.
        """
        named = {name: value for name, value in equal.items() if name in _OF_VEHICLE}
        if not named:
            return super().rows(scope, equal, between, place, limit)
        own = {name: value for name, value in equal.items() if name not in _OF_VEHICLE}
        ids = scope.scalars(_vehicles_named(tuple(named)), **named)
        lists = [
            super(_VisitList, self).rows(scope, {**own, "vehicle_id": id}, between, place, limit)
            for id in ids
        ]
        return list(islice(merge(*lists, key=self.place, reverse=True), limit))


_OF_VEHICLE = ("unit_number", "vin")


@lru_cache
def _vehicles_named(names: tuple[str, ...]) -> ShopStatement[sa.Select[Any]]:
    query = sa.select(vehicles.c.id).where(vehicles.c.deleted_at.is_(None))
    return of_shop(query.where(*[vehicles.c[name] == sa.bindparam(name) for name in names]))


VISITS = _Visits("visit", visits, VisitRecord)
VISIT_LIST = _VisitList(visits, VisitRecord, "visited_at")
