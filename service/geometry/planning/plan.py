"""The correction plan of a solved vehicle: steps in the order of the trade, and their result."""

import math
from collections.abc import Callable, Mapping, Sequence
from typing import NamedTuple

from service.geometry.findings import Finding, Judgement, judge
from service.geometry.forward import Marks, State, marks, observed
from service.geometry.planning.adjusters import LONGITUDINAL, Adjuster
from service.geometry.planning.choose import Choice, amount_of, choose
from service.geometry.planning.next_reading import UNDETERMINED, Advice, Sureness, next_reading
from service.geometry.planning.scope import MATCH_WEDGES, Limit, Row, Value, scope
from service.geometry.readings import Reading
from service.geometry.solve import Solved

NOTICED = 5e-5
"""A mark that changes by less (metres, radians) is not affected by a step: no eye sees it."""

CONFORMING, NONCONFORMING = "conforming", "nonconforming"


SETTLED = frozenset({CONFORMING})


class Mark(NamedTuple):
    """What a scale must show: name of the value, and between which values the step is right."""

    name: str
    value: float
    lower: float | None
    upper: float | None


class Expectation(NamedTuple):
    """What one reading (its place as given) must show once a step is right."""

    reading: int
    marks: list[Mark]


class Move(NamedTuple):
    """One step: move `value` to `after` (`exact` before rounding to the adjuster's increment).

    `because`: places of the findings it mends. `amount` and `exact_amount` are signed, at the
    adjuster, in its unit (see `Adjuster`).
    """

    value: Value
    after: float
    exact: float
    amount: float
    exact_amount: float
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
    value instead of just within limits.
    """
    states = {finding.verdict for finding in findings}
    if states <= SETTLED:
        return NOTHING
    advice = next_reading(solved, findings, sureness) if UNDETERMINED in states else None
    if NONCONFORMING not in states:
        return Plan(advice, [], None, None, [])
    state = State(solved.pattern, list(solved.numbers), list(solved.unknowns))
    moves: list[Move] = []
    for row in scope(solved, findings, rule, adjusters()):
        choice = choose(row, to_nominal)
        state = _take(row, choice, state, readings, solved, moves)
    predicted = predict(solved, state)
    after = judge(predicted, todo, rule)
    return Plan(advice, moves, predicted, after, _remaining(findings, after))


def predict(solved: Solved, state: State) -> Solved:
    """The solution as it will be in a state, its uncertainties those of the readings at hand."""
    values = [
        quantity.tell(state.numbers, state.unknowns, math)[0]
        for quantity in solved.pattern.quantities
    ]
    return solved._replace(numbers=state.numbers, unknowns=list(state.unknowns), values=values)


def _remaining(before: Sequence[Finding], after: Sequence[Finding]) -> list[int]:
    """Findings that do not conform after the plan and are not merely still undecided."""
    return [
        number
        for number, (was, now) in enumerate(zip(before, after, strict=True))
        if now.verdict != CONFORMING
        and (was.verdict != now.verdict or now.verdict == NONCONFORMING)
    ]


def _take(
    row: Row,
    choice: Choice,
    state: State,
    readings: Sequence[Reading],
    solved: Solved,
    moves: list[Move],
) -> State:
    """Add the moves of one row, front to rear, and return the state after them."""
    start = State(solved.pattern, solved.numbers, solved.unknowns)
    for number, value in enumerate(row.values):
        after, exact = choice.rounded[number], choice.exact[number]
        if after == value.start or value.adjuster is None:
            continue
        before, state = state, moved(state, value, after)
        band = _band(row, choice.rounded, number)
        expect = _expect(value, band, before, state, start, readings)
        because = _because(row, number)
        amount, exact_amount = amount_of(value, after), amount_of(value, exact)
        moves.append(Move(value, after, exact, amount, exact_amount, because, expect))
    return state


def moved(state: State, value: Value, after: float) -> State:
    """The state once a value is moved; the rest of the vehicle stays as it is.

    An axle turned by one end pivots about the other, so that its centre moves too.
    """
    numbers, unknowns = list(state.numbers), list(state.unknowns)
    adjuster = value.adjuster
    if value.action == MATCH_WEDGES:
        # A wedge changes the caster of its side by its own taper.
        for unknown in value.unknowns:
            unknowns[unknown] += after - value.start
        return State(state.pattern, numbers, unknowns)
    turns = adjuster is not None and adjuster.kind == LONGITUDINAL
    unknowns[value.unknowns[0]] = math.tan(after) if turns else after
    if adjuster is not None and turns and adjuster.end is not None:
        fixed = -1 if adjuster.end == "right" else 1
        half = fixed * adjuster.spread / 2
        place = state.pattern.distance_of[value.axle]
        numbers[place] -= half * (math.sin(after) - math.sin(value.start))
        offset = state.pattern.unknown_of.get(("offset", value.axle))
        if offset is not None:
            unknowns[offset] += half * (math.cos(value.start) - math.cos(after))
    return State(state.pattern, numbers, unknowns)


def _band(row: Row, values: Sequence[float], number: int) -> tuple[float, float]:
    """Between which values one may be, the others being as planned."""
    lower, upper = -math.inf, math.inf
    for limit in row.values[number].limits:
        lower, upper = max(lower, limit.lower), min(upper, limit.upper)
    for link, side in _links(row, number):
        for limit in link:
            if side > 0:
                neighbour = values[number - 1]
                lower = max(lower, neighbour + limit.lower)
                upper = min(upper, neighbour + limit.upper)
            else:
                neighbour = values[number + 1]
                lower = max(lower, neighbour - limit.upper)
                upper = min(upper, neighbour - limit.lower)
    return lower, upper


def _links(row: Row, number: int) -> list[tuple[list[Limit], int]]:
    """Limits on the difference to the value before (+1) and to the value after (-1)."""
    links = []
    if number > 0 and row.links:
        links.append((row.links[number - 1], 1))
    if number < len(row.links):
        links.append((row.links[number], -1))
    return links


def _because(row: Row, number: int) -> list[int]:
    """Findings that the move mends: broken ones on the value or on a difference it is part of."""
    limits = list(row.values[number].limits)
    for link, _ in _links(row, number):
        limits += link
    return sorted(limit.finding for limit in limits if limit.broken)


def _expect(
    value: Value,
    band: tuple[float, float],
    before: State,
    after: State,
    start: State,
    readings: Sequence[Reading],
) -> list[Expectation]:
    """Marks of every reading that the step changes, with what the band of the value allows."""
    lower, upper = (moved(before, value, edge) if math.isfinite(edge) else None for edge in band)
    found = []
    for number, reading in enumerate(readings):
        if value.axle not in reading.shape()[1:3]:
            continue
        now, then, first = marks(reading, before), marks(reading, after), marks(reading, start)
        if all(abs(t[1] - n[1]) < NOTICED for n, t in zip(now, then, strict=True)):
            continue
        edges = [None if edge is None else marks(reading, edge) for edge in (lower, upper)]
        found.append(Expectation(number, _marks(reading, then, first, edges)))
    return found


def _marks(
    reading: Reading, then: Marks, first: Marks, edges: Sequence[Marks | None]
) -> list[Mark]:
    """The marks as read, carried to the state after the step and to the edges of its band."""
    found = []
    for place, (name, seen) in enumerate(observed(reading)):
        base = seen - first[place][1]
        value = base + then[place][1]
        at_edges = [base + edge[place][1] for edge in edges if edge is not None]
        lower = min((mark for mark in at_edges if mark <= value), default=None)
        upper = max((mark for mark in at_edges if mark >= value), default=None)
        found.append(Mark(name, value, lower, upper))
    return found
