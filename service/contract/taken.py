"""A vehicle of a batch as it is taken from its text: what it takes to solve and to judge it."""

from typing import NamedTuple

from service.contract.bodies import reader_of
from service.contract.duplicates import has_only
from service.contract.intake import Intake, intake_of
from service.contract.intake_adjusters import Adjusters
from service.contract.intake_quick import Quick, quick_of
from service.contract.intake_targets import DEFAULT_SET
from service.contract.members import member_counter
from service.contract.moulds import Poured
from service.contract.problems import ProblemError
from service.contract.solution import SolutionRequest
from service.geometry.pattern import Pattern
from service.geometry.targets import TargetSet, UnknownTargetSetError, target_set
from service.geometry.uncertainty import CENTRING

_reader = reader_of(SolutionRequest)
_around = member_counter(SolutionRequest, frozenset({"vehicle", "readings"}))
"""Members of a request but for those that its vehicle and its readings hold."""


class Taken(NamedTuple):
    """A request, its numbers as its pattern has them, and what it is judged by.

    `centring`: standard uncertainty in metres of the assumption that an axle sits centred. `by` is
    how a known vehicle was read, or else the whole intake.
    """

    request: SolutionRequest
    pattern: Pattern
    numbers: list[float]
    targets: TargetSet
    built_in: bool
    centring: float
    by: Intake | Quick

    @property
    def intake(self) -> Intake:
        """All that is read of the request, for what only few vehicles need."""
        if isinstance(self.by, Intake):
            return self.by
        request, quick = self.request, self.by
        given = Poured(quick.moulds, self.numbers)
        unit = request.length_unit._value_
        return Intake(
            quick.vehicle,
            (self.pattern, self.numbers),
            given,
            self.targets,
            self.built_in,
            self.centring,
            Adjusters(request.vehicle.axles, quick.vehicle.axles, given.spreads, unit),
            quick.bench.instruments.sureness,
        )


def taken(text: bytes) -> Taken:
    """Take a vehicle from its text; raises ProblemError that names all its faults."""
    request: SolutionRequest = _reader.decoded(text)
    quick = None if request.instruments else quick_of(request)
    if quick is not None and _has_only_these(text, request, quick):
        usual = _usual(request, quick)
        if usual is not None:
            return usual
    try:
        intake = intake_of(request)
    except ProblemError:
        _reader.refuse_duplicates(text, request)  # which comes first: what is meant is not known
        raise
    _reader.refuse_duplicates(text, request)
    pattern, numbers = intake.numbered
    return Taken(
        request,
        pattern,
        numbers,
        intake.targets,
        intake.built_in,
        intake.centring_uncertainty,
        intake,
    )


def _has_only_these(text: bytes, request: SolutionRequest, quick: Quick) -> bool:
    """Whether the members that a known vehicle has, and those around it, are all there are.

    Then none stands twice (see `duplicates`), and no axle says how it can be moved. The answer is
    good only if `quick` reads the readings.
    """
    return _around is not None and has_only(text, quick.members + _around(request))


def _usual(request: SolutionRequest, quick: Quick) -> Taken | None:
    """A known vehicle whose request asks for nothing out of the ordinary; else None."""
    if not (request.targets is None and request.centring_uncertainty is None):
        return None
    if request.frame_angle is not None:
        return None
    numbered = quick.numbered(request.readings, CENTRING, 0.0)
    if numbered is None:
        return None
    try:
        targets = target_set(request.target_set or DEFAULT_SET)
    except UnknownTargetSetError:
        return None
    return Taken(request, *numbered, targets, True, CENTRING, quick)
