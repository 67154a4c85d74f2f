"""Target sets on the wire: what a quantity should be, for which axles, and who says so."""

from enum import StrEnum
from typing import Annotated

import msgspec
from msgspec import Meta

from service.contract.base import AxleNumber, ClosedStruct, OpenStruct
from service.contract.vehicle import AxleRole

TargetText = Annotated[
    str,
    Meta(
        min_length=1,
        max_length=40,
        description="A target value in text, in the row's unit.",
        examples=["1/16", "-0.18", "0°30'"],
    ),
]

BaselineText = Annotated[
    str,
    Meta(
        min_length=1,
        max_length=40,
        description="A length above 0 in text. Without a unit, the row's unit holds.",
        examples=["40.2", "1021 mm"],
    ),
]


class Quantity(StrEnum):
    """What an estimate, a finding or a target row speaks of."""

    OFFSET = "offset"
    OFFSET_DIFFERENCE = "offset_difference"
    THRUST = "thrust"
    THRUST_DIFFERENCE = "thrust_difference"
    TOE = "toe"
    TOE_LENGTH = "toe_length"
    TOE_LEFT = "toe_left"
    TOE_RIGHT = "toe_right"
    SETBACK = "setback"
    SKEW = "skew"
    KINGPIN_DIFFERENCE = "kingpin_difference"
    CAMBER_LEFT = "camber_left"
    CAMBER_RIGHT = "camber_right"
    CROSS_CAMBER = "cross_camber"
    CASTER_LEFT = "caster_left"
    CASTER_RIGHT = "caster_right"
    CROSS_CASTER = "cross_caster"
    WEDGE_LEFT = "wedge_left"
    WEDGE_RIGHT = "wedge_right"
    WEDGE_DIFFERENCE = "wedge_difference"
    SCRUB = "scrub"
    SPAN_DIFFERENCE = "span_difference"


class DecisionRule(StrEnum):
    """`guarded`: conforming needs 95 % probability (JCGM 106); `simple`: the value decides."""

    GUARDED = "guarded"
    SIMPLE = "simple"


class TargetUnit(StrEnum):
    """Unit of a target row's texts."""

    INCH = "in"
    MILLIMETRE = "mm"
    CENTIMETRE = "cm"
    DEGREE = "deg"
    MILLIMETRE_PER_METRE = "mm/m"


class TargetRow(ClosedStruct):
    """One quantity's nominal value and limits; a limit left out is open."""

    quantity: Quantity
    unit: TargetUnit
    nominal: TargetText
    lower: TargetText | None = None
    upper: TargetText | None = None
    roles: Annotated[list[AxleRole], Meta(max_length=6)] = []
    """Roles that the row applies to; empty means every role."""
    axles: Annotated[list[AxleNumber], Meta(max_length=12)] = []
    """Axle numbers that the row applies to (of a pair: the rear one); empty means every axle."""
    baseline: BaselineText | None = None
    """Baseline of a toe given as a length; else the axle's own."""
    source: Annotated[str, Meta(max_length=300)] = ""
    """Who says so: a document, or `common practice, no source`."""


class PublishedTargetRow(OpenStruct):
    """A row as it is answered; it can be sent back as a row of a request as it is."""

    quantity: Quantity
    unit: TargetUnit
    nominal: TargetText
    lower: TargetText | None
    upper: TargetText | None
    roles: list[AxleRole]
    """Roles that the row applies to; empty means every role."""
    axles: list[AxleNumber]
    """Axle numbers that the row applies to (of a pair: the rear one); empty means every axle."""
    baseline: BaselineText | None
    """Baseline of a toe given as a length, in the row's unit; else the axle's own."""
    source: str
    """Who says so: a document, or `common practice, no source`."""


def published(row: TargetRow) -> PublishedTargetRow:
    """The row of a request as an answer shows it."""
    return PublishedTargetRow(**msgspec.structs.asdict(row))


class TargetSetSummary(OpenStruct):
    """A target set without its rows."""

    id: str
    version: int
    title: str
    note: str
    """Where the figures come from and under which conditions they hold."""
    decision_rule: DecisionRule
    built_in: bool


class TargetSetDetail(OpenStruct):
    """A target set with its rows."""

    id: str
    version: int
    title: str
    note: str
    """Where the figures come from and under which conditions they hold."""
    decision_rule: DecisionRule
    built_in: bool
    rows: list[PublishedTargetRow]


class TargetSetList(OpenStruct):
    """The target sets there are."""

    items: list[TargetSetSummary]
