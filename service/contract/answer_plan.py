"""Writes the correction plan of a solution as structs; `print_plan` prints what comes often."""

from collections.abc import Sequence
from functools import lru_cache
from math import isinf
from typing import NamedTuple

from service.contract.answer_cautions import DENIED_TEXTS, SOUND
from service.contract.answer_estimates import RADIAN, Scale, clean
from service.contract.answer_expect import expectation
from service.contract.estimates import EstimateUnit
from service.contract.intake import Intake
from service.contract.plan_figures import beyond_of, factor_of, figures_of, texts_of, turns_of
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
from service.geometry.pattern import Pattern
from service.geometry.planning import plan as planning
from service.geometry.planning.adjusters import LONGITUDINAL
from service.geometry.planning.next_reading import Advice
from service.geometry.planning.rows import CENTRE, MATCH_WEDGES, SET_TOE
from service.geometry.planning.words import (
    ANGLED,
    move_words,
    reading_words,
    remainder_words,
    size_words,
)
from service.geometry.solve import Solved

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
    worked = plan_of(request, intake, solved, findings, todo)
    return written(request, intake, solved.pattern, findings, worked, scale)


def written(
    request: SolutionRequest,
    intake: Intake,
    pattern: Pattern,
    findings: list[Finding],
    worked: planning.Plan,
    scale: Scale,
) -> Planned:
    """Write the steps of a plan that is worked out."""
    steps = inspections(request)
    ids = ids_of(pattern, findings)
    if worked.advice is not None:
        steps.append(asked_step(worked.advice, pattern, ids, scale))
    steps += [move_step(move, intake, ids, scale) for move in worked.moves]
    remaining = [remainder(worked, place, ids, scale) for place in worked.remaining]
    return Planned(numbered(steps), remaining, worked)


def plan_of(
    request: SolutionRequest,
    intake: Intake,
    solved: Solved,
    findings: list[Finding],
    todo: list[Judgement],
) -> planning.Plan:
    """Work out the plan, `planning.NOTHING` where all conforms."""
    return planning.plan(
        solved,
        intake.readings,
        findings,
        todo,
        intake.targets.decision_rule,
        intake.adjusters,
        intake.sureness,
        request.plan_to is PlanGoal.NOMINAL,
    )


def ids_of(pattern: Pattern, findings: Sequence[Finding | Judgement]) -> list[str]:
    """The ids of findings, or of what is to be judged, in their order."""
    return [finding_id(pattern.quantities[finding.quantity]) for finding in findings]


def numbered(steps: list[PlanStep]) -> list[PlanStep]:
    """The steps with their numbers, from 1."""
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


def inspections(request: SolutionRequest) -> list[PlanStep]:
    """What the conditions call in doubt comes first: it may change every reading."""
    if request.conditions is None or request.conditions == SOUND:
        return []
    return [
        _step(PlanAction.INSPECT, text if request.text else "")
        for name, text in DENIED_TEXTS.items()
        if getattr(request.conditions, name) is False
    ]


def asked_step(advice: Advice, pattern: Pattern, ids: list[str], scale: Scale) -> PlanStep:
    """The reading that settles best what is undecided."""
    candidate = advice.candidate
    kind, axle, reference, side = candidate[:4]
    text = ""
    if scale.text:
        again = any(
            shape[0] == kind and axle in shape[1:3] and (side is None or side in shape)
            for shape in pattern.shape.readings
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


def move_step(move: planning.Move, intake: Intake, ids: list[str], scale: Scale) -> PlanStep:
    """One move, its number still to be set."""
    value, adjuster = move.value, move.value.adjuster
    assert adjuster is not None, "a move turns an adjuster"
    is_turn = adjuster.kind == LONGITUDINAL
    size, lower, upper, exact = figures_of(move, factor_of(move, scale))
    turns = turns_of(move)
    told, exact_told = texts_of(move, scale) if scale.text else ("", "")
    unit = EstimateUnit.DEGREE if value.action in ANGLED else scale.length
    return PlanStep(
        step=0,
        action=ACTIONS[value.action],
        axle=value.axle,
        reference_axle=None,
        reading=None,
        side=_side(move),
        ends=ENDS[adjuster.end] if is_turn else None,
        direction=_direction(move),
        amount=Amount(
            value=size,
            unit=unit,
            text=told,
            lower=None if isinf(lower) else lower,
            upper=None if isinf(upper) else upper,
        ),
        exact=Amount(value=exact, unit=unit, text=exact_told),
        turns=None if turns is None else clean(turns),
        expect=[expectation(expected, intake, scale) for expected in move.expect],
        because=[ids[place] for place in move.because],
        text=move_words(move, scale.unit, scale.denominator) if scale.text else "",
        measured_at=POINTS[adjuster.at] if is_turn else None,
        spread=spread_of(adjuster.spread, scale) if is_turn else None,
    )


@lru_cache(maxsize=256)
def spread_of(metres: float, scale: Scale) -> Amount:
    """How far apart adjusting points lie, which few vehicles tell of themselves."""
    text = size_words(metres, scale.unit, scale.denominator) if scale.text else ""
    return Amount(value=clean(abs(metres) * scale.per_metre), unit=scale.length, text=text)


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


def remainder(worked: planning.Plan, place: int, ids: list[str], scale: Scale) -> Remainder:
    """A finding that does not conform even after the plan."""
    quantity, beyond = beyond_of(worked, place)
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
