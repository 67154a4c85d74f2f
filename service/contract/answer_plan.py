"""Writes the correction plan of a solution."""

import math
from functools import lru_cache
from typing import NamedTuple

from service.contract.answer_cautions import DENIED_TEXTS, SOUND
from service.contract.answer_estimates import RADIAN, Scale, clean
from service.contract.answer_expect import expectation
from service.contract.estimates import EstimateUnit
from service.contract.intake import Intake
from service.contract.readings import ReadingKind, Side
from service.contract.solution import (
    Amount,
    MeasuredAt,
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
from service.geometry.planning.adjusters import LONGITUDINAL, TIE_ROD, WEDGE, Adjuster
from service.geometry.planning.next_reading import Advice
from service.geometry.planning.rows import CENTRE, MATCH_WEDGES, SET_TOE
from service.geometry.planning.words import (
    change_words,
    move_words,
    moved_words,
    reading_words,
    remainder_words,
    size_words,
)
from service.geometry.solve import Solved
from service.geometry.wording import angle_words

ENDS = {
    None: AdjusterEnds.BOTH_ENDS,
    "left": AdjusterEnds.LEFT_END,
    "right": AdjusterEnds.RIGHT_END,
}


ACTIONS = {action.value: action for action in PlanAction}
POINTS = {points.value: points for points in MeasuredAt}


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


NOTHING = dict.fromkeys(
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


def _step(action: PlanAction, text: str, **told: object) -> PlanStep:
    return PlanStep(
        step=0,
        action=action,
        text=text,
        **{"expect": [], "because": [], **NOTHING, **told},  # type: ignore[arg-type]
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
    is_turn = adjuster.kind == LONGITUDINAL
    return PlanStep(
        step=0,
        action=ACTIONS[value.action],
        axle=value.axle,
        reference_axle=None,
        reading=None,
        side=_side(move),
        ends=ENDS[adjuster.end] if is_turn else None,
        direction=_direction(move),
        amount=_amount(move, scale),
        exact=_exact(move, scale),
        turns=_turns(move.amount, adjuster),
        expect=[expectation(expected, intake, scale) for expected in move.expect],
        because=[ids[place] for place in move.because],
        text=move_words(move, scale.unit, scale.denominator) if scale.text else "",
        measured_at=POINTS[adjuster.at] if is_turn else None,
        spread=_spread(adjuster.spread, scale) if is_turn else None,
    )


@lru_cache(maxsize=256)
def _spread(metres: float, scale: Scale) -> Amount:
    """How far apart adjusting points lie, which few vehicles tell of themselves."""
    return _length(metres, _words(metres, scale), scale)


def _turns(amount: float, adjuster: Adjuster) -> float | None:
    if adjuster.kind == TIE_ROD:
        return None if adjuster.toe_per_turn() is None else clean(abs(amount))
    per_turn = adjuster.length_per_turn()
    return None if per_turn is None or adjuster.kind == WEDGE else clean(abs(amount) / per_turn)


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


def _amount(move: planning.Move, scale: Scale) -> Amount:
    if _is_angle(move):
        start = move.value.start
        told = _angle(move.after - start, change_words(move) if scale.text else "")
        band, factor = [edge - start for edge in move.band], RADIAN
        is_positive = move.after > start
    else:
        text = moved_words(move, scale.unit, scale.denominator) if scale.text else ""
        told = _length(move.amount, text, scale)
        band, factor = [move.least, move.most], scale.per_metre
        is_positive = move.amount > 0
    low, high = band if is_positive else (-band[1], -band[0])
    told.lower = None if math.isinf(low) else clean(max(low, 0.0) * factor)
    told.upper = None if math.isinf(high) else clean(high * factor)
    return told


def _exact(move: planning.Move, scale: Scale) -> Amount:
    if _is_angle(move):
        change = move.exact - move.value.start
        return _angle(change, angle_words(change) if scale.text else "")
    return _length(move.exact_amount, _words(move.exact_amount, scale), scale)


def _words(metres: float, scale: Scale) -> str:
    return size_words(metres, scale.unit, scale.denominator) if scale.text else ""


def _is_angle(move: planning.Move) -> bool:
    return move.value.action in (SET_TOE, MATCH_WEDGES)


def _angle(change: float, text: str) -> Amount:
    return Amount(value=clean(abs(change) * RADIAN), unit=EstimateUnit.DEGREE, text=text)


def _length(amount: float, text: str, scale: Scale) -> Amount:
    return Amount(value=clean(abs(amount) * scale.per_metre), unit=scale.length, text=text)


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
