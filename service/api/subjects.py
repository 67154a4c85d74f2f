"""From a request and its solution on the wire to what is drawn and written down."""

import math
from collections.abc import Iterable, Sequence

from service.contract.estimates import Estimate, EstimateUnit
from service.contract.intake_vehicle import vehicle_of
from service.contract.readings import AxleSpanReading, KingpinSpanReading, Reading, SightlineReading
from service.contract.solution import (
    Amount,
    AxleGeometry,
    Caution,
    Conditions,
    Expectation,
    Finding,
    PairGeometry,
    PlanAction,
    PlanStep,
    Solution,
    SolutionRequest,
)
from service.drawing import subject
from service.drawing.subject import Judgement, Measure, Round, Session, Taken
from service.geometry.vehicle import Vehicle

SI_OF = {
    EstimateUnit.INCH: 0.0254,
    EstimateUnit.MILLIMETRE: 0.001,
    EstimateUnit.CENTIMETRE: 0.01,
    EstimateUnit.DEGREE: math.pi / 180,
}
"""Metres or radians in one of a unit."""

CONDITIONS = Conditions.__struct_fields__

_NOT_MARKS = frozenset(
    {"axle", "front_axle", "rear_axle", "side", "reference", "uncertainty", "instrument"}
)


def round_of(request: SolutionRequest, solution: Solution) -> Round:
    """The vehicle of a request with the geometry and the verdicts of its solution."""
    return Round(
        vehicle_in(request),
        {axle.number: _measures(axle, ("number", "role")) for axle in solution.axles},
        {(pair.front, pair.rear): _measures(pair, ("front", "rear")) for pair in solution.pairs},
        tuple(_judgement(finding) for finding in solution.findings),
    )


def session_of(request: SolutionRequest, solution: Solution) -> Session:
    """The same with readings, conditions, plan and cautions, for a worksheet."""
    suspects = {suspect.pointer for suspect in solution.suspects}
    conditions = request.conditions
    return Session(
        round_of(request, solution),
        request.length_unit.value,
        tuple(
            _taken(reading, f"#/readings/{place}" in suspects)
            for place, reading in enumerate(request.readings)
        ),
        {} if conditions is None else {name: getattr(conditions, name) for name in CONDITIONS},
        tuple(_steps(request, solution.plan)),
        tuple(_remaining(solution)),
        tuple(
            subject.Assumption(one.axle, one.standard_uncertainty * SI_OF[one.unit])
            for one in solution.assumptions
        ),
        tuple(_caution(one, request) for one in solution.cautions),
        solution.target_set,
        solution.engine,
        request.fraction,
    )


def vehicle_in(request: SolutionRequest) -> Vehicle:
    """The vehicle of a request that was solved, in metres."""
    return vehicle_of(request.vehicle, request.length_unit.value, [])


def _measures(told: AxleGeometry | PairGeometry, names: Sequence[str]) -> dict[str, Measure]:
    found = {}
    for name in told.__struct_fields__:
        if name not in names:
            estimate: Estimate | None = getattr(told, name)
            if estimate is not None:
                found[name] = _measure(estimate)
    return found


def _measure(estimate: Estimate) -> Measure:
    factor = SI_OF[estimate.unit]
    return Measure(
        estimate.value * factor, estimate.uncertainty * factor, estimate.basis == "partly_assumed"
    )


def _judgement(finding: Finding) -> Judgement:
    factor = SI_OF[finding.estimate.unit]
    return Judgement(
        finding.id,
        finding.quantity.value,
        finding.axle,
        finding.reference_axle,
        _measure(finding.estimate),
        finding.nominal * factor,
        None if finding.lower is None else finding.lower * factor,
        None if finding.upper is None else finding.upper * factor,
        finding.verdict.value,
        finding.probability,
        finding.source,
    )


def _taken(reading: Reading, suspect: bool) -> Taken:
    marks = [
        (name, str(value))
        for name in reading.__struct_fields__
        if name not in _NOT_MARKS and (value := getattr(reading, name)) is not None
    ]
    axle, reference, side = _place(reading)
    return Taken(kind_of(reading), axle, tuple(marks), reference, side, suspect)


def kind_of(reading: Reading) -> str:
    """The kind of a reading, as its tag says it."""
    return str(reading.__struct_config__.tag)


def _place(reading: Reading) -> tuple[int, int | None, str | None]:
    """Axle, the axle it is referred to, and the side."""
    if isinstance(reading, AxleSpanReading):
        return reading.rear_axle, reading.front_axle, None
    reference = None
    if isinstance(reading, SightlineReading):
        reference = reading.reference
    elif isinstance(reading, KingpinSpanReading):
        reference = 0
    side = getattr(reading, "side", None)
    return reading.axle, reference, None if side is None else side.value


def _steps(request: SolutionRequest, plan: Iterable[PlanStep]) -> Iterable[subject.Step]:
    """The steps; which condition an inspection is for follows from the request, in its order."""
    denied = [
        name
        for name in CONDITIONS
        if request.conditions is not None and getattr(request.conditions, name) is False
    ]
    for step in plan:
        about = None if step.reading is None else step.reading.value
        if step.action is PlanAction.INSPECT and denied:
            about = denied.pop(0)
        amount = step.amount
        yield subject.Step(
            step.action.value,
            step.axle,
            about,
            step.reference_axle,
            None if step.side is None else step.side.value,
            None if step.ends is None else step.ends.value,
            None if step.direction is None else step.direction.value,
            None if amount is None else amount.value * SI_OF[amount.unit],
            amount is None or amount.unit is not EstimateUnit.DEGREE,
            step.turns,
            "axle_ends" if step.measured_at is None else step.measured_at.value,
            _si(step.spread, "value"),
            _si(amount, "lower"),
            _si(amount, "upper"),
            tuple(_expected(one, request) for one in step.expect),
        )


def _si(amount: Amount | None, field: str) -> float | None:
    """A number of an amount in metres or radians."""
    value = None if amount is None else getattr(amount, field)
    return None if amount is None or value is None else float(value * SI_OF[amount.unit])


def _expected(expectation: Expectation, request: SolutionRequest) -> subject.Expected:
    place = int(expectation.pointer.rpartition("/")[2])
    axle, reference, side = _place(request.readings[place])
    return subject.Expected(
        expectation.kind.value,
        axle,
        tuple(
            subject.Mark(
                mark.name,
                mark.value * SI_OF[mark.unit],
                None if mark.lower is None else mark.lower * SI_OF[mark.unit],
                None if mark.upper is None else mark.upper * SI_OF[mark.unit],
                mark.unit is not EstimateUnit.DEGREE,
            )
            for mark in expectation.marks
        ),
        reference,
        side,
    )


def _remaining(solution: Solution) -> Iterable[subject.Remainder]:
    by_id = {finding.id: finding for finding in solution.findings}
    for one in solution.remaining:
        finding = by_id[one.finding]
        beyond = one.beyond * SI_OF[one.unit]
        yield subject.Remainder(
            finding.quantity.value, finding.axle, finding.reference_axle, beyond
        )


def _caution(caution: Caution, request: SolutionRequest) -> subject.Caution:
    axle = None
    steps = (caution.pointer or "").split("/")
    if steps[:3] == ["#", "vehicle", "axles"]:
        axle = request.vehicle.axles[int(steps[3])].number
    elif steps[:2] == ["#", "readings"]:
        axle = _place(request.readings[int(steps[2])])[0]
    return subject.Caution(caution.code, axle)
