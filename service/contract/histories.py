"""`/v1/vehicles/{id}/history`: how a vehicle's geometry changed over its visits."""

from typing import Annotated
from uuid import UUID

from msgspec import Meta

from service.contract.base import AxleNumber, OpenStruct
from service.contract.estimates import EstimateUnit
from service.contract.solution import Verdict
from service.contract.texts import AwareTime
from service.contract.vehicle import LengthUnit


class HistoryPoint(OpenStruct):
    """A quantity as one round found it."""

    visit_id: UUID
    round_id: UUID
    label: str
    visited_at: AwareTime
    odometer_miles: float | None
    value: float
    uncertainty: float
    """Expanded (k=2)."""
    verdict: Verdict | None
    """As it was judged then; null where no target spoke of it."""


class DriftRate(OpenStruct):
    """How fast a quantity changes on the road, between leaving one visit and the next arrival."""

    per_10000_miles: float
    lower: float
    """Lower end of the interval of 95 %."""
    upper: float
    intervals: Annotated[int, Meta(ge=1)]
    """Stretches of road that it rests on."""


class QuantityHistory(OpenStruct):
    """One quantity of one axle or pair over time."""

    axle: AxleNumber
    reference_axle: AxleNumber | None
    """The front axle of a pair."""
    quantity: str
    unit: EstimateUnit
    points: list[HistoryPoint]
    """Oldest first."""
    drift: DriftRate | None
    """Null without two visits with an odometer."""


class VehicleHistory(OpenStruct):
    """A vehicle's geometry over its newest visits (up to 200 rounds)."""

    vehicle_id: UUID
    length_unit: LengthUnit
    """Unit of every length, whatever the rounds were taken in."""
    quantities: list[QuantityHistory]
    text: str
    """What moved since the last visit, in a sentence."""
