"""Writes the correction plan of a solution."""

import math
from typing import NamedTuple

from service.contract.answer_cautions import DENIED_TEXTS, SOUND
from service.contract.answer_estimates import RADIAN, Scale, clean
from service.contract.estimates import EstimateUnit
from service.contract.intake import Intake
from service.contract.problems import pointer_to
from service.contract.readings import ReadingKind, Side
from service.contract.solution import (
    Amount,
    Expectation,
    ExpectedMark,
    PlanAction,
    PlanDirection,
    PlanGoal,
    PlanStep,
    Remainder,
    SolutionRequest,
)
from service.contract.vehicle import AdjusterEnds
from service.geometry.findings import Finding, Judgement, finding_id
from service.geometry.planning import plan as planning
from service.geometry.planning.adjusters import LONGITUDINAL, TIE_ROD, WEDGE
from service.geometry.planning.next_reading import Advice
from service.geometry.planning.rows import CENTRE, MATCH_WEDGES, SET_TOE
from service.geometry.planning.words import move_words, reading_words, remainder_words, size_words
from service.geometry.readings import CasterSweep, Reading, ToeScale, Wedge, WheelAngle
from service.geometry.solve import Solved
from service.geometry.wording import angle_words, length_words

ENDS = {
    None: AdjusterEnds.BOTH_ENDS,
    "left": AdjusterEnds.LEFT_END,
    "right": AdjusterEnds.RIGHT_END,
}
OPPOSITE = {"left": Side.RIGHT, "right": Side.LEFT}


class Planned(NamedTuple):
    """A plan as it is answered, and what it was written from."""

    steps: list[PlanStep]
    remaining: list[Remainder]
    plan: planning.Plan


def planned(
    request: SolutionRequest,
    intake: Intake,
    solved: Solved,
    findings: list[Finding],
    todo: list[Judgement],
    scale: Scale,
) -> Planned:
    """Work out the plan and write its steps."""
    worked = planning.plan(
        solved,
        intake.readings,
        findings,
        todo,
        intake.targets.decision_rule,
        intake.adjusters,
        intake.sureness,
        request.plan_to is PlanGoal.NOMINAL,
    )
    if worked is planning.NOTHING:
        return Planned(_numbered(_inspections(request)), [], worked)
    ids = [finding_id(solved.pattern.quantities[finding.quantity]) for finding in findings]
    steps = _inspections(request)
    if worked.advice is not None:
        steps.append(_reading(worked.advice, solved, ids, scale))
    steps += [_move(move, intake, ids, scale) for move in worked.moves]
    remaining = [_remainder(worked, place, ids, scale) for place in worked.remaining]
    return Planned(_numbered(steps), remaining, worked)


def _numbered(steps: list[PlanStep]) -> list[PlanStep]:
    for number, step in enumerate(steps, 1):
        step.step = number
    return steps


def _step(action: PlanAction, text: str, **told: object) -> PlanStep:
    nothing = dict.fromkeys(
        (
            "axle",
            "reference_axle",
            "reading",
            "side",
            "ends",
            "direction",
            "amount",
            "exact",
            "turns",
        )
    )
    return PlanStep(
        step=0,
        action=action,
        text=text,
        **{"expect": [], "because": [], **nothing, **told},  # type: ignore[arg-type]
    )


def _inspections(request: SolutionRequest) -> list[PlanStep]:
    """What the conditions call in doubt comes first: it may change every reading."""
    if request.conditions is None or request.conditions == SOUND:
        return []
    return [
        _step(PlanAction.INSPECT, text if request.text else "")
        for name, text in DENIED_TEXTS.items()
        if getattr(request.conditions, name) is False
    ]


def _reading(advice: Advice, solved: Solved, ids: list[str], scale: Scale) -> PlanStep:
    candidate = advice.candidate
    kind, axle, reference, side = candidate[:4]
    text = ""
    if scale.text:
        again = any(
            shape[0] == kind and axle in shape[1:3] and (side is None or side in shape)
            for shape in solved.pattern.shape.readings
        )
        text = reading_words(kind, axle, reference, side, again=again)
    return _step(
        PlanAction.READ,
        text,
        axle=axle,
        reference_axle=reference,
        reading=ReadingKind(kind),
        side=None if side is None else Side(side),
        because=[ids[place] for place in advice.findings],
    )


def _move(move: planning.Move, intake: Intake, ids: list[str], scale: Scale) -> PlanStep:
    value, adjuster = move.value, move.value.adjuster
    assert adjuster is not None, "a move turns an adjuster"
    turns = None
    if adjuster.kind == TIE_ROD and adjuster.toe_per_turn() is not None:
        turns = clean(abs(move.amount))
    return _step(
        PlanAction(value.action),
        move_words(move, scale.unit, scale.denominator) if scale.text else "",
        axle=value.axle,
        side=_side(move),
        ends=ENDS[adjuster.end] if adjuster.kind == LONGITUDINAL else None,
        direction=_direction(move),
        amount=_amount(move, move.amount, move.after, scale),
        exact=_amount(move, move.exact_amount, move.exact, scale),
        turns=turns,
        expect=[_expectation(expected, intake, scale) for expected in move.expect],
        because=[ids[place] for place in move.because],
    )


def _side(move: planning.Move) -> Side | None:
    value, adjuster = move.value, move.value.adjuster
    if value.action == MATCH_WEDGES and value.side is not None:
        return Side(value.side)
    if adjuster is None or adjuster.kind != LONGITUDINAL:
        return None
    if adjuster.end is not None:
        return Side(adjuster.end)
    # With both ends moving, the one that goes forward: aiming right, that is the left one.
    return Side.LEFT if move.amount > 0 else Side.RIGHT


def _direction(move: planning.Move) -> PlanDirection:
    value, adjuster = move.value, move.value.adjuster
    if value.action == CENTRE:
        return PlanDirection.RIGHT if move.amount > 0 else PlanDirection.LEFT
    if value.action == SET_TOE:
        return PlanDirection.IN if move.after > value.start else PlanDirection.OUT
    if value.action == MATCH_WEDGES:
        return PlanDirection.REARWARD if move.amount > 0 else PlanDirection.FORWARD
    if adjuster is None or adjuster.end is None:
        return PlanDirection.FORWARD
    forward = "left" if move.amount > 0 else "right"
    return PlanDirection.FORWARD if adjuster.end == forward else PlanDirection.REARWARD


def _amount(move: planning.Move, amount: float, after: float, scale: Scale) -> Amount:
    adjuster = move.value.adjuster
    if adjuster is not None and adjuster.kind in (TIE_ROD, WEDGE):
        return _angle(after - move.value.start, scale)
    size = abs(amount)
    text = size_words(size, scale.unit, scale.denominator) if scale.text else ""
    return Amount(value=clean(size * scale.per_metre), unit=scale.length, text=text)


def _angle(change: float, scale: Scale) -> Amount:
    size = abs(change)
    text = angle_words(size) if scale.text else ""
    return Amount(value=clean(size * RADIAN), unit=EstimateUnit.DEGREE, text=text)


def _expectation(expected: planning.Expectation, intake: Intake, scale: Scale) -> Expectation:
    reading = intake.readings[expected.reading]
    kind, axle = str(reading.shape()[0]), reading.shape()[1]
    if kind == "axle_span":
        axle = reading.shape()[2]
    return Expectation(
        pointer=pointer_to("readings", intake.places[expected.reading]),
        kind=ReadingKind(kind),
        axle=int(axle),
        marks=[_mark(mark, reading, scale) for mark in expected.marks],
    )


def _mark(mark: planning.Mark, reading: Reading, scale: Scale) -> ExpectedMark:
    name = reading.angle if isinstance(reading, WheelAngle) else mark.name
    unit = _mark_unit(reading, scale)
    return ExpectedMark(
        name=name,
        value=clean(_shown(mark.value, reading, scale)),
        lower=None if mark.lower is None else clean(_shown(mark.lower, reading, scale)),
        upper=None if mark.upper is None else clean(_shown(mark.upper, reading, scale)),
        unit=unit,
        text=_mark_text(_shown(mark.value, reading, scale), unit, scale) if scale.text else "",
    )


def _mark_unit(reading: Reading, scale: Scale) -> EstimateUnit:
    """The unit that a reading is read in."""
    angle = isinstance(reading, WheelAngle | CasterSweep | Wedge)
    angle = angle or (isinstance(reading, ToeScale) and reading.baseline is None)
    return EstimateUnit.DEGREE if angle else scale.length


def _shown(mark: float, reading: Reading, scale: Scale) -> float:
    """A mark in the unit that the reading is read in."""
    if isinstance(reading, ToeScale):
        if reading.baseline is None:
            return math.degrees(math.atan(mark))
        return mark * reading.baseline * scale.per_metre
    if isinstance(reading, WheelAngle | CasterSweep | Wedge):
        return mark * RADIAN
    return mark * scale.per_metre


def _mark_text(value: float, unit: EstimateUnit, scale: Scale) -> str:
    sign = "-" if value < 0 else ""
    if unit is EstimateUnit.DEGREE:
        text = angle_words(value / RADIAN)
    else:
        text = length_words(value / scale.per_metre, scale.unit, scale.denominator)
    return sign + text if any(digit in "123456789" for digit in text) else text


def _remainder(worked: planning.Plan, place: int, ids: list[str], scale: Scale) -> Remainder:
    assert worked.predicted is not None, "a plan was worked out"
    assert worked.findings is not None, "a plan was worked out"
    finding = worked.findings[place]
    quantity = worked.predicted.pattern.quantities[finding.quantity]
    value = worked.predicted.values[finding.quantity]
    low, high = finding.target.lower, finding.target.upper
    below = 0.0 if low is None else low - value
    above = 0.0 if high is None else value - high
    beyond = max(below, above, 0.0)
    factor = scale.per_metre if quantity.length else RADIAN
    text = ""
    if scale.text:
        text = remainder_words(quantity, beyond, scale.unit, scale.denominator)
    return Remainder(
        finding=ids[place],
        beyond=clean(beyond * factor),
        unit=scale.length if quantity.length else EstimateUnit.DEGREE,
        text=text,
    )
