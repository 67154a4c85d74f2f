"""`/v1/visits`: vehicles in the shop, from complaint to closing."""

from datetime import datetime
from functools import partial
from typing import Annotated, Any
from uuid import UUID

import msgspec
from litestar import delete, get, post, put
from litestar.params import Body, QueryParameter

from service.api.access import needs
from service.api.storing import (
    AnyRequest,
    CursorQuery,
    IdempotencyKey,
    IfMatch,
    LimitQuery,
    ThingId,
    answered,
    etag,
    needed_revision,
    once,
    read,
    reply,
    revision_in,
    write,
)
from service.contract.problem_catalogue import BAD_QUERY, CONFLICT, NOT_FOUND
from service.contract.problems import FieldError, ProblemError
from service.contract.replies import Reply
from service.contract.texts import has_utc
from service.contract.vin import as_stored
from service.contract.visits import (
    OdometerUnit,
    Reopening,
    ReopeningRequest,
    StoredVisit,
    VisitContent,
    VisitDetails,
    VisitPage,
    VisitState,
)
from service.store.errors import Conflict, StaleRevision
from service.store.scope import ShopScope
from service.store.visits import CLOSED, OPEN, VISIT_LIST, VISITS, VisitRecord

_DETAILS = msgspec.json.Decoder(VisitDetails)
_UNIT = QueryParameter(description="Only visits of vehicles called so.", max_length=120)
_VIN = QueryParameter(description="Only visits of the vehicle with this VIN.", max_length=40)
_VEHICLE = QueryParameter(description="Only visits of this vehicle.")
_STATE = QueryParameter(name="state", description="Only visits in this state.")
_SINCE = QueryParameter(description="Only visits at or after this time, with its offset.")
_UNTIL = QueryParameter(description="Only visits before this time, with its offset.")


@post(
    "/v1/visits",
    summary="Open a visit",
    **needs(
        "write",
        CONFLICT,
        NOT_FOUND,  # of the vehicle
        headers=("ETag", "Location", "Idempotent-Replayed"),
        requires=("Idempotency-Key",),
    ),
)
async def create_visit(
    request: AnyRequest,
    data: Annotated[VisitContent, Body()],
    idempotency_key: IdempotencyKey = None,
) -> Reply[StoredVisit]:
    """Keep a visit of a stored vehicle under a new id; it is open."""

    def work(scope: ShopScope) -> Any:
        made = VISITS.create(scope, opened(data, scope.now))
        return answered(shown(made), status=201, revision=1, at=f"/v1/visits/{made.id}")

    return await once(request, idempotency_key, work)


@put(
    "/v1/visits/{id:uuid}",
    summary="Store or replace a visit",
    **needs("write", CONFLICT, headers=("ETag",), also=(201,)),
)
async def put_visit(
    request: AnyRequest,
    id: ThingId,
    data: Annotated[VisitContent, Body()],
    if_match: IfMatch = None,
) -> Reply[StoredVisit]:
    """Keep a visit under an id that the client made, or replace what is said of an open one.

    Repeating it changes nothing. Replacing another content needs `If-Match`. A closed visit must
    be reopened first.
    """
    revision = revision_in(if_match, required=False)
    record, new = await write(request, lambda scope: put_content(scope, id, data, revision))
    return reply(answered(shown(record), status=201 if new else 200, revision=record.revision))


@get("/v1/visits", summary="List visits", **needs("read"))
async def list_visits(
    request: AnyRequest,
    unit_number: Annotated[str | None, _UNIT] = None,
    vin: Annotated[str | None, _VIN] = None,
    vehicle_id: Annotated[UUID | None, _VEHICLE] = None,
    visit_state: Annotated[VisitState | None, _STATE] = None,
    since: Annotated[datetime | None, _SINCE] = None,
    until: Annotated[datetime | None, _UNTIL] = None,
    cursor: CursorQuery = None,
    limit: LimitQuery = 50,
) -> VisitPage:
    """Visits, newest first; rows that arrive meanwhile neither repeat nor hide one."""
    equal: dict[str, Any] = {
        "unit_number": unit_number,
        "vin": vin and as_stored(vin),
        "vehicle_id": vehicle_id,
        "state": visit_state and visit_state.value,
    }
    find = partial(
        VISIT_LIST.page,
        equal={name: value for name, value in equal.items() if value is not None},
        since=aware(since, "since"),
        until=aware(until, "until"),
        cursor=cursor,
        limit=limit,
    )
    page = await read(request, find)
    return VisitPage(items=[shown(item) for item in page.items], next_cursor=page.next_cursor)


@get("/v1/visits/{id:uuid}", summary="Read a visit", **needs("read", headers=("ETag",)))
async def get_visit(request: AnyRequest, id: ThingId) -> Reply[StoredVisit]:
    """A visit, with its ETag for a change."""
    record = await read(request, lambda scope: VISITS.get(scope, id))
    return Reply(shown(record), headers={"ETag": etag(record.revision)})


@delete("/v1/visits/{id:uuid}", summary="Delete a visit", **needs("write", requires=("If-Match",)))
async def delete_visit(request: AnyRequest, id: ThingId, if_match: IfMatch = None) -> None:
    """Take a visit and its rounds out of sight; it can be restored."""
    revision = needed_revision(if_match)
    await write(request, lambda scope: VISITS.delete(scope, id, revision))


@post(
    "/v1/visits/{id:uuid}/restorations",
    summary="Restore a deleted visit",
    status_code=200,
    **needs("write", CONFLICT, headers=("ETag",)),
)
async def restore_visit(request: AnyRequest, id: ThingId) -> Reply[StoredVisit]:
    """Bring a deleted visit back; one that is there stays as it is."""
    record = await write(request, lambda scope: VISITS.restore(scope, id))
    return Reply(shown(record), headers={"ETag": etag(record.revision)})


@post(
    "/v1/visits/{id:uuid}/closings",
    summary="Close a visit",
    status_code=200,
    **needs("write", CONFLICT, headers=("ETag",), requires=("If-Match",)),
)
async def close_visit(
    request: AnyRequest, id: ThingId, if_match: IfMatch = None
) -> Reply[StoredVisit]:
    """No round can be added to a closed visit; it can be reopened with a reason."""
    revision = needed_revision(if_match)

    def work(scope: ShopScope) -> VisitRecord:
        _state(scope, id, revision, OPEN)
        change = {"state": CLOSED, "closed_at": scope.now}
        return VISITS.change(scope, id, revision, change)

    record = await write(request, work)
    return Reply(shown(record), headers={"ETag": etag(record.revision)})


@post(
    "/v1/visits/{id:uuid}/reopenings",
    summary="Reopen a closed visit",
    status_code=200,
    **needs("write", CONFLICT, headers=("ETag",), requires=("If-Match",)),
)
async def reopen_visit(
    request: AnyRequest,
    id: ThingId,
    data: Annotated[ReopeningRequest, Body()],
    if_match: IfMatch = None,
) -> Reply[StoredVisit]:
    """Open a closed visit again; the reason stays with it."""
    revision = needed_revision(if_match)

    def work(scope: ShopScope) -> VisitRecord:
        details = _DETAILS.decode(_state(scope, id, revision, CLOSED).details)
        details.reopenings = [*details.reopenings, Reopening(reason=data.reason, at=scope.now)]
        change = {"state": OPEN, "closed_at": None, "details": msgspec.json.encode(details)}
        return VISITS.change(scope, id, revision, change)

    record = await write(request, work)
    return Reply(shown(record), headers={"ETag": etag(record.revision)})


def _state(scope: ShopScope, id: UUID, revision: int, state: str) -> VisitRecord:
    """The visit, if it has this revision and is in this state."""
    visit = VISITS.get(scope, id)
    if visit.revision != revision:
        raise StaleRevision(visit.revision)
    if visit.state != state:
        raise Conflict(f"The visit is {visit.state} already.")
    return visit


def put_content(
    scope: ShopScope, id: UUID, data: VisitContent, revision: int | None
) -> tuple[VisitRecord, bool]:
    """Make the visit or bring an open one to this content; its reopenings stay with it.

    Without `visited_at` a visit that is there keeps its own, so that a repeated request is one.
    """
    found = VISITS.find(scope, id)
    if found is None:
        return VISITS.put(scope, id, opened(data, scope.now), revision)
    content = opened(data, found.visited_at)
    reopenings = _DETAILS.decode(found.details).reopenings
    content["details"] = _details(data, reopenings)
    del content["state"], content["closed_at"]
    same = all(getattr(found, name) == value for name, value in content.items())
    if not same and found.deleted_at is None:
        VISITS.get_open(scope, id)
    return VISITS.put(scope, id, content, revision)


def opened(data: VisitContent, now: datetime) -> dict[str, Any]:
    """The columns of a new visit."""
    return {
        "vehicle_id": data.vehicle_id,
        "state": OPEN,
        "visited_at": data.visited_at or now,
        "odometer": data.odometer,
        "odometer_unit": data.odometer_unit.value,
        "details": _details(data, []),
        "closed_at": None,
    }


def _details(data: VisitContent, reopenings: list[Reopening]) -> bytes:
    return msgspec.json.encode(
        VisitDetails(
            complaint=data.complaint,
            technician=data.technician,
            pre_checks=data.pre_checks,
            conditions=data.conditions,
            notes=data.notes,
            reopenings=reopenings,
        )
    )


def aware(at: datetime | None, name: str) -> datetime | None:
    """A time of the query, which needs its offset: it would be guessed otherwise."""
    if at is not None and at.tzinfo is None:
        detail = f"`{name}` has no offset from UTC."
        hint = f"Write {at.isoformat()}Z for UTC, or the offset, with + as %2B."
        raise ProblemError(BAD_QUERY, detail, [FieldError(f"?{name}", detail, hint)])
    if not has_utc(at):
        detail = f"`{name}` has no time in UTC within the years 1 to 9999."
        hint = "Leave it out to ask for all there is."
        raise ProblemError(BAD_QUERY, detail, [FieldError(f"?{name}", detail, hint)])
    return at


def shown(record: VisitRecord) -> StoredVisit:
    """A visit as it is answered."""
    details = _DETAILS.decode(record.details)
    return StoredVisit(
        id=record.id,
        revision=record.revision,
        vehicle_id=record.vehicle_id,
        state=VisitState(record.state),
        visited_at=record.visited_at,
        odometer=record.odometer,
        odometer_unit=OdometerUnit(record.odometer_unit or OdometerUnit.MILE),
        complaint=details.complaint,
        technician=details.technician,
        pre_checks=details.pre_checks,
        conditions=details.conditions,
        notes=details.notes,
        closed_at=record.closed_at,
        reopenings=details.reopenings,
        created_at=record.created_at,
        updated_at=record.updated_at,
    )
