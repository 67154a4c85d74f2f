"""`POST /v1/solutions`: what is asked and what is answered."""

from enum import StrEnum
from typing import Annotated

from msgspec import Meta

from service.contract.base import AngleText, AxleNumber, ClosedStruct, OpenStruct, TapeText
from service.contract.estimates import Estimate, EstimateUnit
from service.contract.readings import Instrument, Reading, ReadingKind, Side
from service.contract.running import Running
from service.contract.target_sets import DecisionRule, Quantity, TargetRow
from service.contract.vehicle import AdjusterEnds, AxleRole, LengthUnit, Vehicle


class Conditions(ClosedStruct):
    """What was done before reading; what is false or unsaid is called in doubt."""

    rolled_straight: bool | None = None
    stopped_gently: bool | None = None
    wheels_on_ground: bool | None = None
    level_ground: bool | None = None
    ride_height_set: bool | None = None
    tyres_matched: bool | None = None
    suspension_sound: bool | None = None


class PlanGoal(StrEnum):
    """How far a plan moves an axle: just within `limits`, or to the `nominal` value. Toe is always
    set to nominal."""

    LIMITS = "limits"
    NOMINAL = "nominal"


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
    """Name of a built-in target set; `common-practice` when neither this nor `targets` is given.
    A shop's own set is known to stored rounds only: elsewhere send its rows in `targets`."""
    targets: InlineTargets | None = None
    instruments: Annotated[list[Instrument], Meta(max_length=50)] = []
    centring_uncertainty: TapeText | None = None
    """Standard uncertainty of the assumption that an axle not taped sits centred; else 1/4 in."""
    frame_angle: AngleText | None = None
    """Slope of the frame while caster was read, down at the rear positive; it is taken off every
    caster, since an instrument reads against gravity and caster is stated for a level frame."""
    conditions: Conditions | None = None
    plan: bool = True
    """Whether a correction plan is worked out."""
    plan_to: PlanGoal = PlanGoal.LIMITS
    running: bool = True
    """Whether straight running is worked out."""
    steering_ratio: Annotated[float, Meta(gt=0, le=100)] | None = None
    """Degrees of the steering wheel for one degree of the front wheels."""
    fraction: Annotated[int, Meta(ge=2, le=64)] = 32
    """Denominator that display texts in inches round to: 16 or 32 are usual."""
    text: bool = True
    """Whether display texts are written; false answers empty texts and saves time."""


class Verdict(StrEnum):
    """Conformance by probability (JCGM 106)."""

    CONFORMING = "conforming"
    NONCONFORMING = "nonconforming"
    UNDETERMINED = "undetermined"


class AxleGeometry(OpenStruct, kw_only=False):
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


class Finding(OpenStruct, kw_only=False):
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


class PlanAction(StrEnum):
    """What a step of a plan does, in the order the trade works."""

    INSPECT = "inspect"
    READ = "read"
    CENTRE = "centre"
    AIM = "aim"
    SQUARE = "square"
    MATCH_WEDGES = "match_wedges"
    SET_TOE = "set_toe"


class PlanDirection(StrEnum):
    """Which way a step goes; of a wedge, the way its thick end is to point more."""

    FORWARD = "forward"
    REARWARD = "rearward"
    LEFT = "left"
    RIGHT = "right"
    IN = "in"
    OUT = "out"


class MeasuredAt(StrEnum):
    """Between which points an axle is turned by an amount.

    `adjusters`: the adjusting points as described; `tape`: the points that a tape was held to;
    `axle_ends`: the ends of the axle, where nothing says otherwise.
    """

    ADJUSTERS = "adjusters"
    TAPE = "tape"
    AXLE_ENDS = "axle_ends"


class Amount(OpenStruct):
    """How much to move at the adjuster, always positive; the direction stands beside it."""

    value: float
    unit: EstimateUnit
    text: str
    """The step of a scale nearest to the value with which the step is right."""
    lower: float | None = None
    upper: float | None = None
    """Between these amounts the step is right; null without end, and where nothing is to be set."""


class ExpectedMark(OpenStruct):
    """What one scale or tape must show; between `lower` and `upper` the step is right.

    That holds while all else is as planned: ends of several bands at once may be too much.
    """

    name: str
    value: float
    """Of a wedge with its thick end to the rear positive."""
    lower: float | None
    """Null where the step is right however far below; both are where this mark hardly tells."""
    upper: float | None
    unit: EstimateUnit
    text: str


class Expectation(OpenStruct):
    """What a reading of the request must show after the step."""

    pointer: str
    kind: ReadingKind
    axle: AxleNumber
    marks: list[ExpectedMark]


class PlanStep(OpenStruct):
    """One step of the plan."""

    step: int
    action: PlanAction
    axle: AxleNumber | None
    reference_axle: AxleNumber | None
    """Of a reading to be taken: the front axle of a span, the axle that carries the scale."""
    reading: ReadingKind | None
    """The kind of reading that a step `read` asks for."""
    side: Side | None
    """The end, wheel or wedge to move; with both ends moving, the one that goes forward."""
    ends: AdjusterEnds | None
    direction: PlanDirection | None
    amount: Amount | None
    """Amount at the adjuster, in steps that it has; half of a difference when both ends move."""
    exact: Amount | None
    """The same before rounding to the adjuster's increment."""
    turns: float | None
    """Turns of the thread: of a tie rod where its arm length is known too."""
    expect: list[Expectation]
    because: list[str]
    """Ids of the findings that the step mends or settles."""
    text: str
    measured_at: MeasuredAt | None = None
    spread: Amount | None = None
    """How far apart the points lie between which the amount is measured."""


class Prediction(OpenStruct):
    """The vehicle as it will be after the whole plan."""

    axles: list[AxleGeometry]
    pairs: list[PairGeometry]
    findings: list[Finding]


class Remainder(OpenStruct):
    """A finding that does not conform even after the plan, and by how much."""

    finding: str
    beyond: float
    """How far beyond its limit the quantity stays; 0 where only its uncertainty is too large."""
    unit: EstimateUnit
    text: str


class Solution(OpenStruct):
    """Geometry, verdicts and what they rest on."""

    engine: str
    length_unit: LengthUnit
    target_set: str | None
    axles: list[AxleGeometry]
    pairs: list[PairGeometry]
    findings: list[Finding]
    plan: list[PlanStep]
    """What to do, in order; empty where every finding conforms."""
    prediction: Prediction | None
    """Geometry and verdicts after the whole plan; null where it moves nothing."""
    remaining: list[Remainder]
    """Findings that no allowed move brings to conform."""
    running: Running | None
    """How the vehicle runs straight as it stands; null where an aim that matters is not told."""
    assumptions: list[Assumption]
    suspects: list[Suspect]
    cautions: list[Caution]
