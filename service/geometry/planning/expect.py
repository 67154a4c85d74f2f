"""What the scales and tapes of the readings must show once a step is right."""

import math
from collections.abc import Sequence
from typing import NamedTuple

from service.geometry.forward import Marks, State, marks, observed
from service.geometry.pattern import Pattern
from service.geometry.planning.moving import pivoted
from service.geometry.planning.rows import (
    AIM,
    CENTRE,
    MATCH_WEDGES,
    SET_TOE,
    SQUARE,
    Limit,
    Row,
    Value,
)
from service.geometry.readings import Reading

NOTICED = 5e-5
"""A mark that changes by less (metres, radians) is not affected by a step: no eye sees it."""


SIGHTED = frozenset({"sightline", "frame_gap", "axle_span", "kingpin_span", "setback_span"})
SHOWS = {
    CENTRE: SIGHTED - {"setback_span"},
    AIM: SIGHTED | {"wheel_angle"},
    SQUARE: SIGHTED,
    MATCH_WEDGES: frozenset({"wedge", "wheel_angle", "caster_sweep"}),
    SET_TOE: frozenset({"toe_scale", "toe_width", "wheel_angle", "sightline"}),
}
"""Kinds of reading that can show what an action does."""

NUDGE = 1e-3
"""Far enough (metres, radians) to tell which way a mark goes."""


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


class Edge(NamedTuple):
    """A state at an end of a band, or, where the band is open there, on the way to it."""

    state: State
    is_open: bool


def moved(state: State, value: Value, after: float) -> State:
    """The state once a value is moved; the rest of the vehicle stays as it is."""
    numbers, unknowns = state.numbers, list(state.unknowns)
    if value.action == MATCH_WEDGES:
        # A wedge changes the caster of its side by its own taper.
        for unknown in value.unknowns:
            unknowns[unknown] += after - value.start
        return State(state.pattern, numbers, unknowns)
    if value.action not in (AIM, SQUARE):
        unknowns[value.unknowns[0]] = after
        return State(state.pattern, numbers, unknowns)
    unknowns[value.unknowns[0]] = math.tan(after)
    back, right = pivoted(value.adjuster, value.start, after)
    if back:
        numbers = list(numbers)
        numbers[state.pattern.distance_of[value.axle]] += back
        offset = state.pattern.unknown_of.get(("offset", value.axle))
        if offset is not None:
            unknowns[offset] += right
    return State(state.pattern, numbers, unknowns)


def band(
    row: Row, values: Sequence[float], number: int, limits: Sequence[Limit]
) -> tuple[float, float]:
    """Between which values one may be, the others being as planned.

    One that can't come within its limits is right from where it can come to inwards.
    """
    lower, upper = -math.inf, math.inf
    for limit in limits:
        lower, upper = max(lower, limit.lower), min(upper, limit.upper)
    if number > 0 and row.links:
        for limit in row.links[number - 1].limits:
            lower = max(lower, values[number - 1] + limit.lower)
            upper = min(upper, values[number - 1] + limit.upper)
    if number < len(row.links):
        for limit in row.links[number].limits:
            lower = max(lower, values[number + 1] - limit.upper)
            upper = min(upper, values[number + 1] - limit.lower)
    return min(lower, values[number]), max(upper, values[number])


class Scales:
    """The readings of a vehicle, and what they show as it is moved step by step."""

    def __init__(self, readings: Sequence[Reading], start: State) -> None:
        self.readings = readings
        self.start = start
        self.shown: dict[int, tuple[list[float], Marks]] = {}

    def step(
        self, value: Value, planned: float, within: tuple[float, float], before: State
    ) -> list[Expectation]:
        """Marks of every reading that a step changes, with what the band of its value allows."""
        found = []
        after, edges = moved(before, value, planned), list[Edge]()
        for number in _readings_of(before.pattern, value.action, value.axle):
            reading = self.readings[number]
            base, now = self.shown.get(number) or self._as_read(reading)
            then = marks(reading, after)
            self.shown[number] = base, then
            if all(abs(t[1] - n[1]) < NOTICED for n, t in zip(now, then, strict=True)):
                continue
            # An end that is planned itself shows what the step shows.
            edges = edges or [
                _edge(before, value, edge, planned - NUDGE, planned + NUDGE)
                for edge in within
                if edge != planned
            ]
            found.append(Expectation(number, _marks(reading, base, then, edges)))
        return found

    def _as_read(self, reading: Reading) -> tuple[list[float], Marks]:
        """What a reading shows beyond its marks (standoff, width of a rail), and its marks."""
        first = marks(reading, self.start)
        seen = observed(reading)
        return [s[1] - f[1] for s, f in zip(seen, first, strict=True)], first


def _readings_of(pattern: Pattern, action: str, axle: int) -> list[int]:
    """Places of the readings that can show what an action does to an axle, once a pattern."""
    key = ("shows", action, axle)
    places: list[int] | None = pattern.kept.get(key)
    if places is None:
        kinds = SHOWS[action]
        places = pattern.kept[key] = [
            place
            for place, (kind, *axles) in enumerate(pattern.shape.readings)
            if kind in kinds and axle in axles[:2]
        ]
    return places


def _edge(before: State, value: Value, edge: float, under: float, over: float) -> Edge:
    """The state at an end of the band; where that is open, a state a little that way."""
    if math.isfinite(edge):
        return Edge(moved(before, value, edge), False)
    return Edge(moved(before, value, over if edge > 0 else under), True)


def _marks(reading: Reading, base: list[float], then: Marks, edges: Sequence[Edge]) -> list[Mark]:
    """The marks after a step, and how far they may be off either way, without end if need be."""
    at_edges = [(marks(reading, edge.state), edge.is_open) for edge in edges]
    found = []
    for place, (name, value) in enumerate(then):
        lower = upper = value
        for edge, is_open in at_edges:
            mark = edge[place][1]
            if is_open and abs(mark - value) < NOTICED:
                continue
            if mark < value:
                lower = -math.inf if is_open else min(lower, mark)
            elif mark > value:
                upper = math.inf if is_open else max(upper, mark)
        own = base[place]
        found.append(Mark(name, own + value, _told(own + lower), _told(own + upper)))
    return found


def _told(mark: float) -> float | None:
    return mark if math.isfinite(mark) else None
