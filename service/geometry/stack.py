"""Solves vehicles of one pattern together, as stacked arrays, by the formulas for one."""

from collections.abc import Sequence
from itertools import pairwise
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from service.geometry.careful import SMALL_STEP
from service.geometry.compiled import Compiled, Settled, compiled
from service.geometry.course import SAME_PLACE, Run, course_of
from service.geometry.normal import CHECKED_SHARE, CRITICAL
from service.geometry.numbers import Number
from service.geometry.pattern import Pattern
from service.geometry.solve import Factors, Solved

FEWEST = 12
"""Below this many vehicles the arrays cost more than they save."""

Table = NDArray[np.float64]


class Stack(NamedTuple):
    """Vehicles of one pattern that were solved together, a row of each table for each of them.

    `values` and `uncertainties` have a column for each quantity. One that is not `sound` is to be
    solved by itself (`solve_numbers`): it contradicts itself so much that it needs care. `runs` has
    the five numbers of a `Run`, then the slips and the sines of all axles; they are told of the
    vehicles that `hold` a course.
    """

    pattern: Pattern
    numbers: Sequence[Sequence[float]]
    unknowns: Table
    values: Table
    uncertainties: Table
    sound: list[bool]
    doubtful: list[bool]
    runs: Table
    hold: list[bool]

    def solved(self, place: int, *, runs: bool = True) -> Solved:
        """One of the vehicles, as `solve` tells it; without its course unless it `runs`."""
        unknowns, own = self.unknowns[place].tolist(), self.numbers[place]
        return Solved(
            self.pattern,
            own,
            unknowns,
            Factors(self.pattern, own, unknowns),
            self.values[place].tolist(),
            self.uncertainties[place].tolist(),
            self._run(place) if runs and self.hold[place] else None,
            self.doubtful[place],
        )

    def _run(self, place: int) -> Run:
        told: list[float] = self.runs[place].tolist()
        axles = (len(told) - HEADING) // 2
        firmness, crab, crab_u, turn, turn_u = told[:HEADING]
        slips, sines = told[HEADING : HEADING + axles], told[HEADING + axles :]
        return Run(firmness, crab, crab_u, turn, turn_u, list[Number](slips), list[Number](sines))


HEADING = 5
"""Numbers of a `Run` before those of its axles."""


def solve_stack(pattern: Pattern, numbers: Sequence[Sequence[float]]) -> Stack | None:
    """Solve vehicles whose numbers fit one pattern, in their order.

    None where so few gain nothing from arrays, and each is to be solved by itself.
    """
    code = compiled(pattern, len(numbers)) if len(numbers) >= FEWEST else None
    return None if code is None else _together(pattern, numbers, code)


def _together(pattern: Pattern, numbers: Sequence[Sequence[float]], code: Compiled) -> Stack:
    count = len(numbers)
    columns = list(np.array(numbers).T.copy())
    with np.errstate(all="ignore"):
        settled = code.solve(columns, np, _size)
        sound = _sound(settled, count)
        doubtful = _doubtful(settled.checks, count)
    found = settled.run
    told = [] if found is None else [*found[:HEADING], *found.slips, *found.sines]
    return Stack(
        pattern,
        numbers,
        _table(settled.unknowns, count),
        _table(settled.values, count),
        _table(settled.uncertainties, count),
        sound,
        doubtful,
        _table(told, count),
        _hold(pattern, found, columns, count),
    )


def _size(step: Sequence[Any]) -> Any:
    return np.max(np.abs(step), axis=0)


def _sound(settled: Settled, count: int) -> list[bool]:
    """Which vehicles have settled to finite numbers."""
    total: Any = np.zeros(count)
    for row in (settled.values, settled.uncertainties):
        for column in row:
            total = total + column * 0.0
    sound = np.isfinite(total)
    for last in settled.last_steps:
        sound &= last < SMALL_STEP
    found: list[bool] = sound.tolist()
    return found


def _doubtful(checks: Sequence[Any], count: int) -> list[bool]:
    """Which vehicles have a residual that is too large."""
    found = np.zeros(count, dtype=bool)
    for at in range(0, len(checks), 3):
        rest, own, variance = checks[at : at + 3]
        found |= (own > CHECKED_SHARE * variance) & (rest * rest >= CRITICAL * CRITICAL * own)
    doubtful: list[bool] = found.tolist()
    return doubtful


def _hold(pattern: Pattern, found: Run | None, columns: Sequence[Any], count: int) -> list[bool]:
    """Which vehicles can hold a course at all, as `solve.steady` says of one."""
    course = course_of(pattern)
    if course is None or found is None:
        return [False] * count
    hold = np.broadcast_to(np.asarray(found.firmness) > 1.0, count).copy()
    for front, rear in pairwise(course.distances):
        hold &= columns[rear] - columns[front] > SAME_PLACE
    steady: list[bool] = hold.tolist()
    return steady


def _table(columns: Sequence[Any], count: int) -> Table:
    """Arrays of one number for all vehicles to a table with a row for each vehicle."""
    table = np.empty((count, len(columns)))
    for place, column in enumerate(columns):
        table[:, place] = column
    return table
