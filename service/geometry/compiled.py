"""Solves vehicles of a pattern that comes again and again by code written out for it.

Most shops read truck after truck alike. What the steps of `least_squares.py` do for one pattern is
traced once and compiled; it then takes a sixth of the time, for one vehicle or for a stack of them,
and computes the same in the same order.
"""

import math
from collections.abc import Callable, Sequence
from functools import cached_property
from typing import NamedTuple

from service.geometry.careful import SMALL_STEP
from service.geometry.course import Run, course_of, run
from service.geometry.latest import Latest
from service.geometry.least_squares import MOST_STEPS, solve_group, step_of, told
from service.geometry.normal import Group
from service.geometry.numbers import Functions, Number
from service.geometry.pattern import Pattern
from service.geometry.tracing import Trace

EARNED = 3
"""Vehicles for each equation of a pattern after which it is compiled, which costs as much as
solving some six for each equation step by step."""

MOST_ROWS = 24
"""Equations of a pattern that is compiled; more than that no yard takes day by day."""

MOST_COMPILED = 256
"""Patterns that are kept compiled, at some 60 kB each."""


class Settled(NamedTuple):
    """What compiled code tells: numbers are floats, or arrays of shape (vehicles,).

    `last_steps`: size of the last step of each group whose equations are curved. `checks`: for
    each row of a redundant group its residual, the variance of that, and that of the reading.
    """

    last_steps: list[Number]
    unknowns: list[Number]
    values: list[Number]
    uncertainties: list[Number]
    checks: list[Number]
    run: Run | None


class Curved(NamedTuple):
    """A group whose equations are curved, and its compiled step with the entries of its factor."""

    group: Group
    step: Callable[..., tuple[list[Number], ...]]


class Compiled:
    """A pattern's code: one step of each curved group, and all the rest."""

    def __init__(self, pattern: Pattern) -> None:
        self.unknowns = pattern.unknowns
        self.curved = [_curved(group) for group in pattern.groups if not group.linear]
        self.rest = _rest(pattern)
        self._pattern = pattern

    @cached_property
    def tell(self) -> Callable[..., tuple[list[Number], ...]]:
        """The values alone, for unknowns that are known; only a plan asks for it."""
        trace = Trace()
        v, p = trace.argument("v"), trace.argument("p")
        values = [quantity.tell(v, p, trace)[0] for quantity in self._pattern.quantities]
        return trace.function("v, p", [values])

    def solve(
        self, numbers: Sequence[Number], f: Functions, size: Callable[..., Number]
    ) -> Settled:
        """Solve one vehicle (`f` is `math`) or a stack (`numpy`); `size` is that of a step.

        What does not settle is returned as it is, with a large last step.
        """
        p: list[Number] = [0.0] * self.unknowns
        entries: list[Number] = []
        last_steps: list[Number] = []
        for group, step_once in self.curved:
            for _ in range(MOST_STEPS):
                step, factor = step_once(f, numbers, p)
                for unknown, part in zip(group.order, step, strict=True):
                    p[unknown] = p[unknown] + part
                last = size(step)
                if (last < SMALL_STEP) if f is math else (last < SMALL_STEP).all():
                    break
            entries += factor
            last_steps.append(last)
        unknowns, values, uncertainties, checks, heading, slips, sines = self.rest(
            f, numbers, p, entries
        )
        found = None
        if heading:
            firmness, crab, crab_u, turn, turn_u = heading
            found = Run(firmness, crab, crab_u, turn, turn_u, slips, sines)
        return Settled(last_steps, unknowns, values, uncertainties, checks, found)


def _curved(group: Group) -> Curved:
    trace = Trace()
    factor, step = step_of(group, trace.argument("v"), trace.argument("p"), trace)
    entries = [factor[row][column] for row, column in _places(group)]
    return Curved(group, trace.function("v, p", [step, entries]))


def _places(group: Group) -> list[tuple[int, int]]:
    """Row and column of every entry of a group's factor that is not always nothing."""
    diagonal = [(place, place) for place in range(group.size)]
    return diagonal + [(row, column) for column, rows in enumerate(group.below) for row in rows]


def _rest(pattern: Pattern) -> Callable[..., tuple[list[Number], ...]]:
    trace = Trace()
    v, p, entries = trace.argument("v"), trace.argument("p"), trace.argument("l")
    unknowns: list[Number] = [0.0] * pattern.unknowns
    factors: list[list[list[Number]]] = []
    checks: list[Number] = []
    taken = 0
    for group in pattern.groups:
        if group.linear:
            factors.append(solve_group(group, v, unknowns, trace))
        else:
            for unknown in group.order:
                unknowns[unknown] = p[unknown]
            places = _places(group)
            factors.append(
                _factor(group, places, [entries[taken + at] for at in range(len(places))])
            )
            taken += len(places)
        if group.redundant:
            for check in group.checks(v, unknowns, factors[-1], trace):
                checks += check[1:]
    values, uncertainties = told(pattern, v, unknowns, factors, trace)
    course = course_of(pattern)
    heading: list[Number] = []
    slips: list[Number] = []
    sines: list[Number] = []
    if course is not None:
        *heading, slips, sines = run(pattern, course, v, unknowns, factors, trace)
    results = [unknowns, values, uncertainties, checks, heading, slips, sines]
    return trace.function("v, p, l", results)


def _factor(
    group: Group, places: Sequence[tuple[int, int]], entries: Sequence[Number]
) -> list[list[Number]]:
    factor: list[list[Number]] = [[0.0] * (row + 1) for row in range(group.size)]
    for (row, column), entry in zip(places, entries, strict=True):
        factor[row][column] = entry
    return factor


_kept = Latest[Pattern, Compiled](MOST_COMPILED)


def values_of(pattern: Pattern, numbers: Sequence[float], unknowns: Sequence[float]) -> list[float]:
    """The quantities of a vehicle whose unknowns are known, by compiled code if there is some."""
    code = _kept.get(pattern)
    if code is None:
        return [quantity.tell(numbers, unknowns, math)[0] for quantity in pattern.quantities]
    values: list[float] = code.tell(math, numbers, unknowns)[0]
    return values


def compiled(pattern: Pattern, vehicles: int = 1) -> Compiled | None:
    """The code of a pattern, None for one that has not come often; `vehicles` come now."""
    found = _kept.get(pattern)
    if found is None:
        pattern.seen += vehicles
        if pattern.rows > MOST_ROWS or pattern.seen < EARNED * pattern.rows:
            return None
        found = Compiled(pattern)
        oldest = _kept.keep(pattern, found)
        if oldest is not None:
            oldest.seen = 0  # it has to earn its place anew
    return found
