"""`POST /v1/line-items`: what is asked and what is answered."""

import datetime
from enum import StrEnum
from typing import Annotated

from msgspec import Meta

from service.contract.base import AxleNumber, ClosedStruct, OpenStruct
from service.contract.estimates import EstimateUnit
from service.contract.rate_cards import (
    CurrencyCode,
    Discount,
    Money,
    OwnText,
    QuantityText,
    RateCard,
    RoundingMode,
    WorkOperation,
)
from service.contract.readings import Side
from service.contract.solution import PlanAction, Verdict
from service.contract.target_sets import Quantity
from service.contract.vehicle import AdjusterEnds

FindingId = Annotated[str, Meta(min_length=1, max_length=100, description="Id of a finding.")]


class SolvedAxle(OpenStruct):
    """An axle of a solution; all but its number is ignored."""

    number: AxleNumber


class SolvedEstimate(OpenStruct):
    """The value of a finding."""

    value: float
    unit: EstimateUnit
    text: Annotated[str, Meta(max_length=200)]


class SolvedFinding(OpenStruct):
    """A finding of a solution; what is not named here is ignored."""

    id: FindingId
    quantity: Quantity
    axle: AxleNumber
    reference_axle: AxleNumber | None
    """The front axle of a pair."""
    estimate: SolvedEstimate
    verdict: Verdict


class SolvedStep(OpenStruct):
    """A step of a solution's plan; what is not named here is ignored."""

    step: Annotated[int, Meta(ge=1, le=1000)]
    action: PlanAction
    axle: AxleNumber | None
    side: Side | None
    ends: AdjusterEnds | None
    because: Annotated[list[FindingId], Meta(max_length=1300)]
    """Ids of the findings that the step is for."""


class SolvedRound(OpenStruct):
    """A solution, pasted as it was answered; what is not named here is ignored."""

    axles: Annotated[list[SolvedAxle], Meta(min_length=1, max_length=12)]
    findings: Annotated[list[SolvedFinding], Meta(max_length=1300)]
    plan: Annotated[list[SolvedStep], Meta(max_length=100)]


class WaiverReason(StrEnum):
    """Why work is done at no charge."""

    WARRANTY = "warranty"
    COMEBACK = "comeback"
    GOODWILL = "goodwill"


class Waiver(ClosedStruct):
    """Work that is shown on the bill and costs nothing."""

    operation: WorkOperation
    reason: WaiverReason
    axle: AxleNumber | None = None
    """One axle; else every one. An operation on the whole vehicle has none."""


class OtherWork(ClosedStruct):
    """Work that no finding can show: a call-out, a road test, an inspection.

    A correction is never other work: only findings can prove that it was needed.
    """

    operation: WorkOperation
    quantity: QuantityText = "1"
    """Counts the units of a price by steps and multiplies a time."""
    text: OwnText = ""


class LineItemsRequest(ClosedStruct):
    """A solution with its plan for an estimate, and the solution after the work for a bill."""

    rate_card: RateCard
    before: SolvedRound
    """The first solution, with its findings and plan."""
    after: SolvedRound | None = None
    """The solution after the work; what it proves is billed. Without it, the plan is estimated."""
    date: datetime.date | None = None
    """Day of the work; needed where the rate card has dates."""
    waivers: Annotated[list[Waiver], Meta(max_length=50)] = []
    other_work: Annotated[list[OtherWork], Meta(max_length=6)] = []
    discount: Discount | None = None
    """In place of the rate card's."""


class BillStage(StrEnum):
    """Whether the lines are planned, or proven by the readings after the work."""

    ESTIMATE = "estimate"
    FINAL = "final"


class LineKind(StrEnum):
    """What a line is for."""

    WORK = "work"
    MINIMUM = "minimum"
    SUPPLIES = "supplies"
    DISCOUNT = "discount"


class LineUnit(StrEnum):
    """What the quantity of a line counts."""

    JOB = "job"
    AXLE = "axle"
    HOUR = "hour"
    STEP = "step"


class FreeReason(StrEnum):
    """Why a line costs nothing."""

    INCLUDED = "included"
    WARRANTY = "warranty"
    COMEBACK = "comeback"
    GOODWILL = "goodwill"


class LinePosition(OpenStruct, kw_only=False):
    """Where the work was done."""

    axle: AxleNumber
    side: Side | None
    """The side that was worked on; null for the whole axle."""
    axle_location: Annotated[int, Meta(ge=0, le=255)]
    """The byte of SAE J1939 axle location (SPN 928), counted within this vehicle: the axle from
    the front in the high four bits, the place from the left in the low four, both from 0."""


class LineEvidence(OpenStruct, kw_only=False):
    """A finding that a line rests on."""

    finding: str
    quantity: Quantity
    axle: AxleNumber
    verdict_before: Verdict
    before: str | None
    """Its value before the work, in words."""
    after: str | None
    """Its value after the work; null in an estimate."""


class LineItem(OpenStruct, kw_only=False):
    """One line; its amount is quantity times unit price, rounded, or 0 where it is free."""

    kind: LineKind
    operation: WorkOperation | None
    code: str
    text: str
    positions: list[LinePosition]
    quantity: str
    unit: LineUnit
    unit_price: Money
    amount: Money
    evidence: list[LineEvidence]
    steps: list[int]
    """Steps of the plan that it stands for."""
    free: FreeReason | None
    free_text: str | None
    tax_category: str


class UnbilledReason(StrEnum):
    """Why something is not billed.

    `no_rate`: the rate card has no price for it.
    `conforming`: it was within its limits before.
    `not_called_for`: no finding calls for the step.
    `undetermined`: the first readings could not tell, and no step of the plan was for it.
    `still_outside`: it is outside its limits after the work.
    `not_proven`: the readings after the work do not prove it.
    `not_read`: it was not read again.
    `no_operation`: no operation corrects the quantity.
    `not_shown`: readings cannot show that it was done; list it as other work.
    """

    NO_RATE = "no_rate"
    CONFORMING = "conforming"
    NOT_CALLED_FOR = "not_called_for"
    UNDETERMINED = "undetermined"
    STILL_OUTSIDE = "still_outside"
    NOT_PROVEN = "not_proven"
    NOT_READ = "not_read"
    NO_OPERATION = "no_operation"
    NOT_SHOWN = "not_shown"


class UnbilledWork(OpenStruct):
    """Something that a reader could look for on the bill, and why it is not there."""

    reason: UnbilledReason
    operation: WorkOperation | None
    axles: list[AxleNumber]
    findings: list[str]
    steps: list[int]
    text: str


class BillChange(OpenStruct):
    """What an operation, or a charge that is no work, came to in the estimate and in the end."""

    kind: LineKind
    operation: WorkOperation | None
    estimate: Money
    final: Money
    difference: Money
    planned_axles: list[AxleNumber]
    final_axles: list[AxleNumber]
    text: str


class BillComparison(OpenStruct):
    """The final bill against what the plan would have cost, all else the same.

    `changes` has what differs only, and adds up to the difference.
    """

    estimate: Money
    final: Money
    difference: Money
    changes: list[BillChange]
    text: str


class LineItemsAnswer(OpenStruct):
    """The lines; they add up to the total, to the minor unit."""

    stage: BillStage
    currency: CurrencyCode
    rounding: RoundingMode
    language: str
    """Of the texts, as `Accept-Language` chose it."""
    lines: list[LineItem]
    subtotal: Money
    """Work and minimum charge."""
    supplies: Money
    discount: Money
    """Below zero."""
    total: Money
    unbilled: list[UnbilledWork]
    comparison: BillComparison | None
    """Of a final bill whose first solution had a plan."""
