"""What the scales and tapes of the readings must show once a step is right."""

import math
from collections.abc import Sequence
from operator import sub
from typing import Any, NamedTuple

from service.geometry.findings import made
from service.geometry.forward import Gauge, Marks, State, gauges_of
from service.geometry.pattern import Pattern
from service.geometry.planning.moving import pivoted
from service.geometry.planning.rows import (
    AIM,
    CENTRE,
    MATCH_WEDGES,
    SET_TOE,
    SQUARE,
    Bound,
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

HARDLY = 0.02
"""A mark that changes by no more for each metre or radian of what is moved hardly tells how far
that went."""

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


def moved(state: State, value: Value, after: float) -> State:
    """The state once a value is moved; the rest of the vehicle stays as it is."""
    pattern, numbers, unknowns = state
    unknowns = unknowns.copy()
    if value.action == MATCH_WEDGES:
        # A wedge changes the caster of its side by its own taper.
        for unknown in value.unknowns:
            unknowns[unknown] += after - value.start
        return State(pattern, numbers, unknowns)
    if value.action not in (AIM, SQUARE):
        unknowns[value.unknowns[0]] = after
        return State(pattern, numbers, unknowns)
    unknowns[value.unknowns[0]] = math.tan(after)
    back, right = pivoted(value.adjuster, value.start, after)
    if back:
        numbers = list(numbers)
        numbers[pattern.distance_of[value.axle]] += back
        offset = pattern.unknown_of.get(("offset", value.axle))
        if offset is not None:
            unknowns[offset] += right
    return State(pattern, numbers, unknowns)


def band(bounds: Sequence[Bound], planned: float) -> tuple[float, float]:
    """Between which values one is right that is planned as stated, the others being as planned.

    One that can't come within its limits is right from where it can come to inwards.
    """
    lower, upper = -math.inf, math.inf
    for low, high, _ in bounds:
        if low > lower:
            lower = low
        if high < upper:
            upper = high
    return min(lower, planned), max(upper, planned)


class Scales:
    """The readings of a vehicle, and what they show as it is moved step by step."""

    def __init__(self, readings: Sequence[Reading], start: State) -> None:
        self.readings = readings
        self.start = start
        self.told: dict[int, _Told] = {}

    def step(
        self,
        value: Value,
        planned: float,
        within: tuple[float, float],
        before: State,
        after: State,
    ) -> list[Expectation]:
        """Marks of every reading that a step changes, with what the band of its value allows."""
        found, edges = [], list[Edge]()
        for number, gauge in _showing(before.pattern, value.action, value.axle):
            reading = self.readings[number]
            told = self.told.get(number) or self._at_start(reading, gauge)
            then = gauge.show(reading, after.numbers, after.unknowns)
            if max(map(abs, map(sub, then, told.last))) < NOTICED:
                continue
            edges = edges or _edges(value, planned, within, before)
            marks = _marks(gauge, reading, told, then, edges)
            self.told[number] = _Told(told.first, then, marks)
            found.append(Expectation(number, marks))
        return found

    def _at_start(self, reading: Reading, gauge: Gauge) -> "_Told":
        first = gauge.show(reading, self.start.numbers, self.start.unknowns)
        return _Told(first, first, ())


class _Told(NamedTuple):
    """What is known of a reading: its marks at the start, as told last, and what was told."""

    first: Marks
    last: Marks
    marks: Sequence[Mark]


def _showing(pattern: Pattern, action: str, axle: int) -> list[tuple[int, Gauge]]:
    """The readings, by place, that can show what an action does to an axle, once a pattern."""
    key = ("shows", action, axle)
    found: list[tuple[int, Gauge]] | None = pattern.kept.get(key)
    if found is None:
        kinds, gauges = SHOWS[action], gauges_of(pattern)
        found = pattern.kept[key] = [
            (place, gauges[place])
            for place, (kind, *axles) in enumerate(pattern.shape.readings)
            if kind in kinds and axle in axles[:2]
        ]
    return found


Edge = tuple[State, bool, float]
"""The state at an end of a band, or, where the band is open there (True), on the way to it; how
far (metres, radians) that is from what is planned."""


def _edges(value: Value, planned: float, within: tuple[float, float], before: State) -> list[Edge]:
    """The ends of a band but for one that is planned itself, which shows what the step shows."""
    found: list[Edge] = []
    for edge in within:
        if edge == planned:
            continue
        is_open = math.isinf(edge)
        at = planned + math.copysign(NUDGE, edge) if is_open else edge
        found.append((moved(before, value, at), is_open, abs(at - planned)))
    return found


def _marks(
    gauge: Gauge, reading: Reading, told: _Told, then: Marks, edges: Sequence[Edge]
) -> list[Mark]:
    """The marks after a step, and how far they may be off either way, without end if need be.

    What a reading shows beyond its marks (standoff, width of a rail) is as it was at first. A mark
    that hardly tells of this step may be off as far as the step before let it.
    """
    at_edges = []
    for at, is_open, far in edges:
        at_edges.append((gauge.show(reading, at.numbers, at.unknowns), is_open, HARDLY * far))
    read: Any = reading[gauge.read]
    found = []
    for place, name in enumerate(gauge.names):
        value = then[place]
        own = read[place] - told.first[place]
        lower = upper = value
        tells = not at_edges
        for marks, is_open, least_change in at_edges:
            mark = marks[place]
            if abs(mark - value) <= least_change:
                continue
            tells = True
            if is_open:
                mark = math.copysign(math.inf, mark - value)
            if mark < lower:
                lower = mark
            elif mark > upper:
                upper = mark
        if tells:
            least = None if lower == -math.inf else own + lower
            most = None if upper == math.inf else own + upper
        else:
            least, most = _as_before(told, place, value)
        # As `Mark(...)` makes it, in half the time.
        found.append(made(Mark, (name, own + value, least, most)))
    return found


def _as_before(told: _Told, place: int, value: float) -> tuple[float | None, float | None]:
    """The band that a mark had before, taken along as far as the mark itself has gone since."""
    if not told.marks:
        return None, None
    _, _, least, most = told.marks[place]
    gone = value - told.last[place]
    return None if least is None else least + gone, None if most is None else most + gone
