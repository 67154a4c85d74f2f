"""Rounds of readings: added to an open visit, then never changed."""

from collections.abc import Callable
from datetime import UTC, datetime
from typing import Any
from uuid import UUID

import msgspec
import sqlalchemy as sa

from service.store.binding import of_shop
from service.store.errors import Conflict, NotFound
from service.store.ids import new_id
from service.store.scope import ShopScope
from service.store.tables import rounds, visits
from service.store.visits import OPEN, VISITS

MOST = 200
"""Rounds that a visit can have."""


class RoundRecord(msgspec.Struct):
    """A row of `rounds`; request and solution are JSON, letter by letter."""

    id: UUID
    visit_id: UUID
    label: str
    taken_at: datetime
    request: bytes
    solution: bytes
    target_set: str | None
    target_set_version: int | None
    engine: str
    created_at: datetime


class _Taking(msgspec.Struct):
    """What a visit says of whether it takes another round."""

    state: str
    deleted_at: datetime | None
    full: bool


class _Day(msgspec.Struct):
    """When a visit of a vehicle was, and what its odometer showed."""

    id: UUID
    visited_at: datetime
    odometer: int | None
    odometer_unit: str | None


class _Taken(msgspec.Struct):
    """A round without its request, which a history does not need."""

    id: UUID
    visit_id: UUID
    label: str
    taken_at: datetime
    solution: bytes


class DatedRound(msgspec.Struct):
    """A solution with the visit's date and odometer, for a vehicle's history."""

    id: UUID
    visit_id: UUID
    label: str
    taken_at: datetime
    visited_at: datetime
    odometer: int | None
    odometer_unit: str | None
    solution: bytes


_COLUMNS = [rounds.c[name] for name in RoundRecord.__struct_fields__]
_OF_VISIT = of_shop(
    sa.select(*_COLUMNS)
    .where(rounds.c.visit_id == sa.bindparam("visit"))
    .order_by(rounds.c.taken_at, rounds.c.id)
)
_LAST_ALLOWED = of_shop(
    sa.select(rounds.c.id)
    .where(rounds.c.visit_id == sa.bindparam("visit"))
    .offset(MOST - 1)
    .limit(1)
)
_TAKES_ROUNDS = of_shop(
    sa.select(visits.c.state, visits.c.deleted_at, sa.exists(_LAST_ALLOWED.statement).label("full"))
    .where(visits.c.id == sa.bindparam("visit"))
    .with_for_update(read=True, of=visits),
    often=True,
)
_DAYS = of_shop(
    sa.select(*[visits.c[name] for name in _Day.__struct_fields__])
    .where(visits.c.vehicle_id == sa.bindparam("vehicle"), visits.c.deleted_at.is_(None))
    .order_by(visits.c.visited_at.desc(), visits.c.id.desc())
    .limit(sa.bindparam("limit", type_=sa.Integer))
)
_OF_DAYS = of_shop(
    sa.select(*[rounds.c[name] for name in _Taken.__struct_fields__])
    .where(rounds.c.visit_id.in_(sa.bindparam("visits", expanding=True)))
    .order_by(rounds.c.taken_at.desc(), rounds.c.id.desc())
)
DAYS_AT_ONCE = 20


def add(scope: ShopScope, content: dict[str, Any], id: UUID | None = None) -> RoundRecord:
    """Add a round to an open visit, under a new id unless the caller has one that is not taken.

    The visit stays open until this transaction ends. Conflict if it is closed or full.
    """
    _require_room(scope, content["visit_id"])
    taken_at = content["taken_at"].astimezone(UTC)  # as it will be read
    record = RoundRecord(
        **{**content, "taken_at": taken_at}, id=id or new_id(), created_at=scope.now
    )
    scope.insert_record(rounds, record)
    data = {"id": record.id, "visit_id": record.visit_id, "label": record.label}
    scope.announce("round.created", f"round/{record.id}", msgspec.json.encode(data))
    return record


def _require_room(scope: ShopScope, visit_id: UUID) -> None:
    visit = scope.first(_Taking, _TAKES_ROUNDS, visit=visit_id)
    if visit is None or visit.deleted_at is not None:
        raise NotFound(VISITS.name)
    if visit.state != OPEN:
        raise Conflict("The visit is closed; reopen it first, with a reason.")
    if visit.full:
        raise Conflict(f"A visit has at most {MOST} rounds; open another one.")


def repeated(
    scope: ShopScope,
    id: UUID,
    visit_id: UUID,
    label: str,
    taken_at: datetime | None,
    is_sent: Callable[[bytes], bool],
) -> RoundRecord | None:
    """The round with the client's id if it was stored before; Conflict if it was another one.

    `is_sent` says whether a stored request is the one that was sent now. A time that was not sent
    is no other one.
    """
    found = scope.find(RoundRecord, rounds, id=id)
    if found is None:
        return None
    told = (visit_id, label, taken_at or found.taken_at)
    if (found.visit_id, found.label, found.taken_at) != told or not is_sent(found.request):
        raise Conflict("A round is never changed, and another one has this id.")
    return found


def get(scope: ShopScope, visit_id: UUID, id: UUID) -> RoundRecord:
    """The round of a visit that is not deleted."""
    VISITS.get(scope, visit_id)
    found = scope.find(RoundRecord, rounds, id=id)
    if found is None or found.visit_id != visit_id:
        raise NotFound("round")
    return found


def made(scope: ShopScope, id: UUID) -> RoundRecord:
    """The round with this id, whatever has become of its visit."""
    found = scope.find(RoundRecord, rounds, id=id)
    if found is None:
        raise NotFound("round")
    return found


def of_visit(scope: ShopScope, visit_id: UUID) -> list[RoundRecord]:
    """The rounds of a visit in the order they were taken."""
    VISITS.get(scope, visit_id)
    return scope.rows(RoundRecord, _OF_VISIT, visit=visit_id)


def of_vehicle(scope: ShopScope, vehicle_id: UUID, limit: int) -> list[DatedRound]:
    """The newest rounds of a vehicle, newest first.

    The visits come first and their rounds after them. One query over the join would leave SQLite,
    which knows no numbers of rows, the choice to walk through all rounds of the shop.
    """
    days = scope.rows(_Day, _DAYS, vehicle=vehicle_id, limit=limit)
    found: list[DatedRound] = []
    while days and len(found) < limit:
        some, days = days[:DAYS_AT_ONCE], days[DAYS_AT_ONCE:]
        taken = scope.rows(_Taken, _OF_DAYS, visits=[day.id for day in some])
        for day in some:
            found += [_dated(one, day) for one in taken if one.visit_id == day.id]
    return found[:limit]


def _dated(one: _Taken, day: _Day) -> DatedRound:
    return DatedRound(
        id=one.id,
        visit_id=one.visit_id,
        label=one.label,
        taken_at=one.taken_at,
        visited_at=day.visited_at,
        odometer=day.odometer,
        odometer_unit=day.odometer_unit,
        solution=one.solution,
    )
