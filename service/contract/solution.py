"""`POST /v1/solutions`: what is asked and what is answered."""

from enum import StrEnum
from typing import Annotated

from msgspec import Meta

from service.contract.base import AxleNumber, ClosedStruct, OpenStruct, TapeText
from service.contract.readings import Instrument, Reading
from service.contract.target_sets import DecisionRule, Quantity, TargetRow
from service.contract.vehicle import AxleRole, LengthUnit, Vehicle


class Conditions(ClosedStruct):
    """What was done before reading; what is false or unsaid is called in doubt."""

    rolled_straight: bool | None = None
    stopped_gently: bool | None = None
    wheels_on_ground: bool | None = None
    level_ground: bool | None = None
    ride_height_set: bool | None = None
    tyres_matched: bool | None = None
    suspension_sound: bool | None = None


class InlineTargets(ClosedStruct):
    """Targets sent with the request instead of the name of a stored set."""

    rows: Annotated[list[TargetRow], Meta(min_length=1, max_length=100)]
    decision_rule: DecisionRule = DecisionRule.GUARDED


class SolutionRequest(ClosedStruct):
    """Readings of one vehicle and what they are to be judged against."""

    length_unit: LengthUnit
    vehicle: Vehicle
    readings: Annotated[list[Reading], Meta(min_length=1, max_length=200)]
    target_set: Annotated[str, Meta(min_length=1, max_length=64)] | None = None
    """Name of a target set; `common-practice` when neither this nor `targets` is given."""
    targets: InlineTargets | None = None
    instruments: Annotated[list[Instrument], Meta(max_length=50)] = []
    centring_uncertainty: TapeText | None = None
    """Standard uncertainty of the assumption that an axle not taped sits centred; else 1/4 in."""
    conditions: Conditions | None = None
    fraction: Annotated[int, Meta(ge=2, le=64)] = 32
    """Denominator that display texts in inches round to: 16 or 32 are usual."""
    text: bool = True
    """Whether display texts are written; false answers empty texts and saves time."""


class EstimateUnit(StrEnum):
    """Unit of an estimate."""

    INCH = "in"
    MILLIMETRE = "mm"
    CENTIMETRE = "cm"
    DEGREE = "deg"


class Basis(StrEnum):
    """Whether readings alone carry an estimate or an assumption has a part in it."""

    MEASURED = "measured"
    PARTLY_ASSUMED = "partly_assumed"


class Verdict(StrEnum):
    """Conformance by probability (JCGM 106)."""

    CONFORMING = "conforming"
    NONCONFORMING = "nonconforming"
    UNDETERMINED = "undetermined"


class Estimate(OpenStruct):
    """A number that the readings give, with its expanded uncertainty (k=2)."""

    value: float
    unit: EstimateUnit
    uncertainty: float
    basis: Basis
    text: str


class AxleGeometry(OpenStruct):
    """Geometry of one axle; what no reading reaches is null."""

    number: AxleNumber
    role: AxleRole
    offset: Estimate | None
    """Axle centre from the frame centreline, right positive."""
    offset_difference: Estimate | None
    """Right gap less left gap of a tape: twice the offset."""
    thrust: Estimate | None
    """Aim of the axle from the frame centreline, right positive."""
    thrust_difference: Estimate | None
    """Right less left reading that a centred axle of this thrust shows on the reference scale."""
    toe: Estimate | None
    """Total toe, toe-in positive."""
    toe_length: Estimate | None
    """Total toe as a length over `toe_baseline`."""
    toe_baseline: Estimate | None
    toe_left: Estimate | None
    toe_right: Estimate | None
    setback: Estimate | None
    """Right spring-pin span less left, right end further back positive."""
    skew: Estimate | None
    """The angle of the setback."""
    kingpin_difference: Estimate | None
    """Right less left kingpin span that a centred axle of this thrust shows."""
    camber_left: Estimate | None
    camber_right: Estimate | None
    cross_camber: Estimate | None
    """Right less left."""
    caster_left: Estimate | None
    caster_right: Estimate | None
    cross_caster: Estimate | None
    """Right less left."""
    wedge_left: Estimate | None
    """Taper, thick end to the rear positive."""
    wedge_right: Estimate | None
    wedge_difference: Estimate | None
    """Right less left: the cross caster that the wedges alone would give."""


class PairGeometry(OpenStruct):
    """How two neighbouring axles that do not steer stand to each other."""

    front: AxleNumber
    rear: AxleNumber
    scrub: Estimate | None
    """Aim of the rear axle less the aim of the front one."""
    span_difference: Estimate | None
    """Right less left axle-end span that this scrub shows over the spread that was read."""


class Finding(OpenStruct):
    """One quantity judged against one target row."""

    id: str
    quantity: Quantity
    axle: AxleNumber
    reference_axle: AxleNumber | None
    """The front axle of a pair."""
    estimate: Estimate
    nominal: float
    lower: float | None
    upper: float | None
    verdict: Verdict
    probability: float
    """Probability that the quantity lies within the limits."""
    source: str
    text: str


class Assumption(OpenStruct):
    """Something taken for granted because no reading says it."""

    id: str
    axle: AxleNumber
    quantity: Quantity
    value: float
    unit: EstimateUnit
    standard_uncertainty: float
    text: str


class Suspect(OpenStruct):
    """A reading that its fellows contradict."""

    pointer: str
    normalised_residual: float
    text: str


class Caution(OpenStruct):
    """Something the reader must know before acting on the numbers."""

    code: str
    pointer: str | None
    text: str


class Solution(OpenStruct):
    """Geometry, verdicts and what they rest on."""

    engine: str
    length_unit: LengthUnit
    target_set: str | None
    axles: list[AxleGeometry]
    pairs: list[PairGeometry]
    findings: list[Finding]
    assumptions: list[Assumption]
    suspects: list[Suspect]
    cautions: list[Caution]
