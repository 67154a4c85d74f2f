"""`/v1/visits`: a vehicle's stay in the shop."""

from enum import StrEnum
from typing import Annotated
from uuid import UUID

from msgspec import Meta

from service.contract.base import ClosedStruct, OpenStruct
from service.contract.solution import Conditions
from service.contract.texts import AwareTime, Cursor, NoteText, Revision, ShortText, refuse_no_utc

Odometer = Annotated[int, Meta(ge=0, le=100_000_000, description="As the odometer shows it.")]


class OdometerUnit(StrEnum):
    """What an odometer counts."""

    MILE = "mi"
    KILOMETRE = "km"


class VisitState(StrEnum):
    """Whether rounds can be added."""

    OPEN = "open"
    CLOSED = "closed"


class PreCheckResult(StrEnum):
    """What came of looking at something before reading."""

    SOUND = "sound"
    WORN = "worn"
    NOT_LOOKED_AT = "not_looked_at"


class PreCheck(ClosedStruct):
    """One thing looked at before reading: tyres, bearings, kingpins, springs, bushes."""

    item: ShortText
    result: PreCheckResult
    note: NoteText | None = None


class VisitContent(ClosedStruct):
    """A visit as a shop describes it."""

    vehicle_id: UUID
    visited_at: AwareTime | None = None
    """When the vehicle came; now, if left out."""
    odometer: Odometer | None = None
    odometer_unit: OdometerUnit = OdometerUnit.MILE
    complaint: NoteText | None = None
    """What the driver says."""
    technician: ShortText | None = None
    pre_checks: Annotated[list[PreCheck], Meta(max_length=50)] = []
    conditions: Conditions | None = None
    """Hold for every round that is stored from then on and says nothing of its own."""
    notes: NoteText | None = None

    def __post_init__(self) -> None:
        refuse_no_utc("visited_at", self.visited_at)


class Reopening(ClosedStruct):
    """That a closed visit was opened again, and why."""

    reason: NoteText
    at: AwareTime


class ReopeningRequest(ClosedStruct):
    """Why a closed visit is opened again."""

    reason: NoteText


class VisitDetails(ClosedStruct):
    """The part of a visit's content that nothing is looked up by, as it is stored."""

    complaint: NoteText | None = None
    technician: ShortText | None = None
    pre_checks: list[PreCheck] = []
    conditions: Conditions | None = None
    notes: NoteText | None = None
    reopenings: list[Reopening] = []


class StoredVisit(OpenStruct):
    """A visit of the shop."""

    id: UUID
    revision: Revision
    vehicle_id: UUID
    state: VisitState
    visited_at: AwareTime
    odometer: int | None
    odometer_unit: OdometerUnit
    complaint: str | None
    technician: str | None
    pre_checks: list[PreCheck]
    conditions: Conditions | None
    notes: str | None
    closed_at: AwareTime | None
    reopenings: list[Reopening]
    created_at: AwareTime
    updated_at: AwareTime


class VisitPage(OpenStruct):
    """Visits, newest first."""

    items: list[StoredVisit]
    next_cursor: Cursor | None
    """Null at the end."""
