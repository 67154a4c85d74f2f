"""`POST /v1/comparisons`: what changed between two rounds of readings of one vehicle."""

from service.contract.base import AxleNumber, ClosedStruct, OpenStruct
from service.contract.estimates import Estimate
from service.contract.solution import Solution, SolutionRequest, Verdict
from service.contract.target_sets import Quantity
from service.contract.vehicle import LengthUnit


class ComparisonRequest(ClosedStruct):
    """Two solution requests of one vehicle: the same axles, in any length unit."""

    before: SolutionRequest
    after: SolutionRequest


class QuantityChange(OpenStruct):
    """Change of one quantity, in the length unit of `after`."""

    quantity: Quantity
    axle: AxleNumber
    reference_axle: AxleNumber | None
    """The front axle of a pair."""
    before: Estimate
    after: Estimate
    change: Estimate
    """After less before, with the expanded uncertainty of the difference. The readings of the two
    rounds count as independent of each other, and so does what both take for granted, such as that
    an untaped axle sits centred: if that stayed as it was, the change is surer than this says."""
    significant: bool
    """Whether the change exceeds that uncertainty."""
    text: str


class FindingTurn(OpenStruct):
    """A finding's verdict before and after; null where it was not judged."""

    finding: str
    before: Verdict | None
    after: Verdict | None
    cured: bool
    """Did not conform and does."""
    appeared: bool
    """Does not conform and was not known to."""


class Comparison(OpenStruct):
    """What changed, what was cured and what appeared."""

    length_unit: LengthUnit
    changes: list[QuantityChange]
    findings: list[FindingTurn]
    cured: list[str]
    appeared: list[str]
    before: Solution
    after: Solution
