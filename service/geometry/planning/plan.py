"""The correction plan of a solved vehicle: steps in the order of the trade, and their result."""

import math
from collections.abc import Callable, Mapping, Sequence
from typing import NamedTuple

from service.geometry.compiled import values_of
from service.geometry.findings import Finding, Judgement, judge_again
from service.geometry.forward import State, state_of
from service.geometry.planning.adjusters import Adjuster
from service.geometry.planning.candidates import Sureness
from service.geometry.planning.choose import Choice, choose
from service.geometry.planning.expect import Expectation, Mark, Scales, band, moved
from service.geometry.planning.limits import CONFORMING, NONCONFORMING, Limits
from service.geometry.planning.moving import amount_of, pivoted
from service.geometry.planning.next_reading import Advice, next_reading
from service.geometry.planning.rows import (
    AIM,
    CENTRE,
    MATCH_WEDGES,
    SET_TOE,
    SQUARE,
    Bound,
    Row,
    Value,
    bounds_on,
)
from service.geometry.planning.scope import Scope
from service.geometry.readings import Reading
from service.geometry.solve import Solved

__all__ = ["NOTHING", "Expectation", "Mark", "Move", "Plan", "plan", "predict"]


class Move(NamedTuple):
    """One step: move `value` to `after` (`exact` before rounding to the adjuster's increment).

    `because`: places of the findings it mends. `amount` and `exact_amount` are signed, at the
    adjuster, in its unit (see `Adjuster`). The step is right anywhere in `band`, where the amount
    lies from `least` to `most`.
    """

    value: Value
    after: float
    exact: float
    amount: float
    exact_amount: float
    band: tuple[float, float]
    least: float
    most: float
    because: list[int]
    expect: list[Expectation]


class Plan(NamedTuple):
    """What to read first, what to move, and what that leads to.

    `predicted` and `findings` are the geometry and the verdicts after all moves, None where
    nothing moves; `remaining` the places of findings that do not conform even then.
    """

    advice: Advice | None
    moves: list[Move]
    predicted: Solved | None
    findings: list[Finding] | None
    remaining: list[int]


NOTHING = Plan(None, [], None, None, [])


def plan(
    solved: Solved,
    readings: Sequence[Reading],
    findings: Sequence[Finding],
    todo: list[Judgement],
    rule: str,
    adjusters: Callable[[], Mapping[int, Sequence[Adjuster]]],
    sureness: Sureness,
    to_nominal: bool = False,
) -> Plan:
    """Plan the fewest moves that bring every finding to conform, then the least movement.

    `adjusters`, asked only when something moves, by axle number; `sureness` gives the standard
    uncertainty of a reading that is yet to be taken; `to_nominal` moves what moves to its nominal
    value instead of just within limits. Toe is always set to nominal.
    """
    unsettled = [place for place, found in enumerate(findings) if found.verdict != CONFORMING]
    if not unsettled:
        return NOTHING
    out = [place for place in unsettled if findings[place].verdict == NONCONFORMING]
    advice = next_reading(solved, findings, sureness) if len(out) < len(unsettled) else None
    if not out:
        return Plan(advice, [], None, None, [])
    start = state_of(solved.pattern, solved.numbers, solved.unknowns)
    scope = Scope(solved, Limits(solved, findings, out, rule), adjusters())
    scales = Scales(readings, start)
    state, moves = start, list[Move]()
    for row, choice in _choices(scope, to_nominal):
        state = _take(row, choice, state, scales, moves)
    predicted = predict(solved, state)
    after = judge_again(predicted, todo, rule, solved, findings)
    return Plan(advice, moves, predicted, after, _remaining(findings, after))


def predict(solved: Solved, state: State) -> Solved:
    """The solution as it will be in a state, its uncertainties those of the readings at hand."""
    pattern, numbers, unknowns = state.pattern, state.numbers, state.unknowns[:-1]
    return Solved(
        pattern,
        numbers,
        unknowns,
        solved.factors,
        values_of(pattern, numbers, unknowns),
        solved.uncertainties,
        solved.run,
        solved.doubtful,
    )


def _remaining(before: Sequence[Finding], after: Sequence[Finding]) -> list[int]:
    """Findings that do not conform after the plan and are not merely still undecided."""
    return [
        number
        for number, now in enumerate(after)
        if now.verdict != CONFORMING
        and (now.verdict == NONCONFORMING or before[number].verdict != now.verdict)
    ]


def _choices(scope: Scope, to_nominal: bool) -> list[tuple[Row, Choice]]:
    """What each matter is moved to, in the order of the trade.

    Aims and beams are chosen before centring, though moved after it: an axle that pivots about
    one end takes its centre along, and is centred for where that will be.
    """
    broken = scope.limits.broken
    chosen, aims, squares = list[tuple[Row, Choice]](), [], []
    if AIM in broken:
        aims = _chosen([scope.aims()], to_nominal)
    if SQUARE in broken:
        squares = _chosen([scope.square(axle) for axle in broken[SQUARE]], to_nominal)
    if CENTRE in broken:
        shifts = {
            value.axle: pivoted(value.adjuster, value.start, after)[1]
            for value, after in _afterwards([*aims, *squares])
        }
        centres = [scope.centre(axle, shifts.get(axle, 0.0)) for axle in broken[CENTRE]]
        chosen += _chosen(centres, to_nominal)
    chosen += aims
    chosen += squares
    if MATCH_WEDGES in broken:
        chosen += _chosen([scope.wedges(axle) for axle in broken[MATCH_WEDGES]], to_nominal)
    if SET_TOE in broken:
        aimed = {value.axle: after for value, after in _afterwards(aims)}
        toes = [scope.toe(n, aimed.get(n, scope.aim_of(n))) for n in broken[SET_TOE]]
        # A loosened tie rod turns as easily to nominal as to a limit, and toe wears tyres first.
        chosen += _chosen(toes, to_nominal=True)
    return chosen


def _afterwards(chosen: Sequence[tuple[Row, Choice]]) -> list[tuple[Value, float]]:
    """Each value, and what it is moved to."""
    return [
        pair for _, choice in chosen for pair in zip(choice.values, choice.rounded, strict=True)
    ]


def _chosen(rows: Sequence[Row], to_nominal: bool) -> list[tuple[Row, Choice]]:
    return [(row, choose(row, to_nominal)) for row in rows]


def _take(row: Row, choice: Choice, state: State, scales: Scales, moves: list[Move]) -> State:
    """Add the moves of one row, front to rear, and return the state after them."""
    values, _, rounded, _ = choice
    for number, value in enumerate(values):
        after, start, adjuster = rounded[number], value.start, value.adjuster
        if after == start or adjuster is None:
            continue
        before, state = state, moved(state, value, after)
        exact, bounds = choice.exact[number], bounds_on(row, number, value.limits, rounded)
        within, amount = band(bounds, after), amount_of(adjuster, start, after)
        # What is planned as it was worked out is often an end of its band too.
        known = {after: amount, -math.inf: -math.inf, math.inf: math.inf}
        exact_amount, least, most = [
            known[at] if at in known else amount_of(adjuster, start, at) for at in (exact, *within)
        ]
        moves.append(
            Move(
                value,
                after,
                exact,
                amount,
                exact_amount,
                within,
                least,
                most,
                _because(row, bounds),
                scales.step(value, after, within, before, state),
            )
        )
    return state


def _because(row: Row, bounds: Sequence[Bound]) -> list[int]:
    """Findings that a move mends: broken ones on the value or on a difference it is part of.

    A value that makes room for its neighbours moves for what is broken on them.
    """
    found = {limit.finding for _, _, limit in bounds if limit.broken}
    if not found:
        of_places = [limit for place in row.places for limit in place[0].limits]
        of_links = [limit for link in row.links for limit in link.limits]
        found = {limit.finding for limit in (*of_places, *of_links) if limit.broken}
    return sorted(found)
