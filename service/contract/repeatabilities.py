"""`POST /v1/repeatabilities`: what is asked and what is answered."""

from typing import Annotated

from msgspec import Meta

from service.contract.base import AxleNumber, ClosedStruct, LengthText, OpenStruct
from service.contract.figures import Figure
from service.contract.readings import Instrument, InstrumentName, ReadingKind, UncertaintyText
from service.contract.solution import Caution
from service.contract.vehicle import LengthUnit

RepeatedText = Annotated[
    str,
    Meta(
        min_length=1,
        max_length=40,
        description="A reading as it was read, in text: a length, or for `wheel_angle`, "
        "`caster_sweep` and `wedge` an angle.",
        examples=["3 5/16", "84.1 mm", "0.25"],
    ),
]
Repeated = Annotated[list[RepeatedText], Meta(min_length=2, max_length=100)]


class RepeatedSeries(ClosedStruct):
    """One operator reads the same again and again, hanging or taping anew each time.

    Nothing is moved between the repetitions. Series of several operators at one place (the same
    `vehicle`, `axle` and side) tell reproducibility.
    """

    kind: ReadingKind
    axle: AxleNumber
    operator: Annotated[str, Meta(min_length=1, max_length=40)]
    vehicle: Annotated[str, Meta(max_length=40)] = ""
    """Any name that tells the vehicles of the request apart."""
    left: Repeated | None = None
    right: Repeated | None = None
    values: Repeated | None = None
    """Repetitions of one place where the kind has no left and right, such as `toe_scale`."""
    distance: LengthText | None = None
    """Of a sightline: from its axle to the scale. Series at two distances, one at least 1.5 times
    the other, tell the line's aim from the reading of the scale."""
    resolution: UncertaintyText | None = None
    """Smallest step of the scale; readings are never held for surer than it allows."""
    instrument: InstrumentName | None = None
    """Series of one kind and instrument are pooled; the answer has a figure for each."""


class RepeatabilityRequest(ClosedStruct):
    """Repeated readings of a shop."""

    length_unit: LengthUnit
    series: Annotated[list[RepeatedSeries], Meta(min_length=1, max_length=200)]
    text: bool = True
    """Whether display texts are written; false answers empty texts."""


class AimParts(OpenStruct):
    """Scatter of a sightline told apart: variance = reading^2 + (distance x re-hang)^2."""

    reading: Figure
    """Standard uncertainty of reading the scale, at no distance."""
    rehang: Figure
    """Standard uncertainty of the line's aim from hanging to hanging, as an angle."""


class KindRepeatability(OpenStruct):
    """What readings of one kind and instrument are good for: one side of one reading."""

    kind: ReadingKind
    places: int
    operators: int
    readings: int
    """Single readings that went in."""
    repeatability: Figure
    """Standard deviation s_r of one operator at one place (ISO 5725-2)."""
    repeatability_degrees_of_freedom: int
    between_operators: Figure | None
    """Standard deviation s_L from operator to operator at one place, 0 where none shows."""
    reproducibility: Figure | None
    """Standard deviation s_R of any operator at one place; null when no place was read by two."""
    resolution_floor: Figure | None
    """What `resolution` alone makes of a reading (JCGM 100, F.2.2.1)."""
    uncertainty: Figure
    """Standard uncertainty (k=1): reproducibility, else repeatability, never below the floor. Of
    sightlines it is pooled over the distances that were read; `aim` tells them apart."""
    degrees_of_freedom: float
    """Of `uncertainty`, effective (JCGM 100, G.4.1)."""
    coverage_factor: float
    """Student's k for 95 % at these degrees of freedom (JCGM 100, G.3)."""
    expanded_uncertainty: Figure
    """`coverage_factor` times `uncertainty`."""
    aim: AimParts | None
    """Of sightlines at two distances; else null."""
    instrument: Instrument | None
    """To be pasted into `instruments` of a solution request; null when repetition never differed
    and no resolution was given."""
    cautions: list[Caution]
    text: str


class RepeatabilityAnswer(OpenStruct):
    """Uncertainties by kind of reading and instrument, in the order in which they came."""

    engine: str
    length_unit: LengthUnit
    kinds: list[KindRepeatability]
