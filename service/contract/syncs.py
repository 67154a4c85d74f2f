"""`POST /v1/syncs`: a day's offline work in one call, each item answered for itself."""

from typing import Annotated
from uuid import UUID

from msgspec import Meta

from service.contract.base import ClosedStruct, OpenStruct
from service.contract.problems import Problem
from service.contract.rounds import RoundRequest
from service.contract.stored_vehicles import VehicleContent
from service.contract.visits import VisitContent

ReadRevision = Annotated[int, Meta(ge=1, le=2**53)]


MOST_ITEMS = 500


class SyncVehicle(ClosedStruct, tag_field="kind", tag="vehicle"):
    """A vehicle under the client's id, as by `PUT /v1/vehicles/{id}`."""

    id: UUID
    content: VehicleContent
    revision: ReadRevision | None = None
    """The revision that was read, where the vehicle was there before."""


class SyncVisit(ClosedStruct, tag_field="kind", tag="visit"):
    """A visit under the client's id, as by `PUT /v1/visits/{id}`."""

    id: UUID
    content: VisitContent
    revision: ReadRevision | None = None
    """The revision that was read, where the visit was there before."""


class SyncRound(ClosedStruct, tag_field="kind", tag="round"):
    """A round under the client's id, as by `PUT /v1/visits/{visit_id}/rounds/{id}`."""

    id: UUID
    visit_id: UUID
    content: RoundRequest


SyncItem = SyncVehicle | SyncVisit | SyncRound


class SyncRequest(ClosedStruct):
    """Work done offline, in the order it was done."""

    items: Annotated[list[SyncItem], Meta(min_length=1, max_length=MOST_ITEMS)]


class SyncResult(OpenStruct):
    """What became of one item."""

    index: int
    """Place of the item in the request, counted from 0."""
    id: UUID
    """All zeros for an item whose id cannot be read; `index` says which it is."""
    status: int
    """201 made, 200 there already or changed, else the status of the problem."""
    revision: int | None
    """Revision of the vehicle or visit now."""
    problem: Problem | None


class SyncAnswer(OpenStruct):
    """What became of each item, in the order of the request."""

    items: list[SyncResult]
