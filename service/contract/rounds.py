"""`/v1/visits/{id}/rounds`: readings as they were sent, and what came of them."""

from typing import Annotated
from uuid import UUID

from msgspec import Meta

from service.contract.base import AxleNumber, ClosedStruct, OpenStruct
from service.contract.solution import Solution, SolutionRequest
from service.contract.texts import AwareTime, refuse_no_utc

RoundLabel = Annotated[
    str,
    Meta(
        min_length=1,
        max_length=40,
        pattern=r"^[a-z0-9][a-z0-9_-]*\Z",
        description="What the round is for: `before` and `after` the work, or a name of one's own.",
        examples=["before", "after", "road-test"],
    ),
]


class RoundRequest(ClosedStruct):
    """One round of readings of a visit."""

    label: RoundLabel
    request: SolutionRequest
    """The readings, as for `POST /v1/solutions`; `target_set` may be one of the shop's own."""
    taken_at: AwareTime | None = None
    """When the readings were taken; now, if left out."""

    def __post_init__(self) -> None:
        refuse_no_utc("taken_at", self.taken_at)


class FigureChange(OpenStruct):
    """A quantity that today's engine gives another value than was stored."""

    axle: AxleNumber
    reference_axle: AxleNumber | None
    """The front axle of a pair."""
    quantity: str
    stored: float | None
    today: float | None


class Recomputation(OpenStruct):
    """The same readings by today's engine."""

    solution: Solution
    changes: list[FigureChange]
    """Empty when today's engine gives the same numbers."""


class StoredRound(OpenStruct):
    """A round; it never changes."""

    id: UUID
    visit_id: UUID
    label: str
    taken_at: AwareTime
    engine: str
    """Version of the engine that solved it."""
    target_set: str | None
    target_set_version: int | None
    created_at: AwareTime
    request: SolutionRequest
    """Letter by letter as it was sent; before it the visit's `conditions`, if it said none."""
    solution: Solution
    recomputation: Recomputation | None
    """Only with `?recompute=true`."""


class RoundList(OpenStruct):
    """The rounds of a visit in the order they were taken."""

    items: list[StoredRound]
