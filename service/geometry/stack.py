"""Solves vehicles of one pattern together, as stacked arrays, by the formulas for one."""

from collections.abc import Sequence
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from service.geometry.careful import SMALL_STEP
from service.geometry.compiled import Compiled, Settled, compiled
from service.geometry.course import Run, course_of
from service.geometry.normal import CHECKED_SHARE, CRITICAL
from service.geometry.pattern import Pattern
from service.geometry.solve import Factors, Solved, steady

FEWEST = 12
"""Below this many vehicles the arrays cost more than they save."""

Table = NDArray[np.float64]


class Stack(NamedTuple):
    """Vehicles that were solved together, and what is told of them as tables.

    None stands for a vehicle that is to be solved by itself (`solve_numbers`): one that contradicts
    itself so much that it needs care. `values` and `uncertainties` have the shape (vehicles,
    quantities).
    """

    solved: list[Solved | None]
    values: Table
    uncertainties: Table


def solve_stack(pattern: Pattern, numbers: Sequence[Sequence[float]]) -> Stack | None:
    """Solve vehicles whose numbers fit one pattern, in their order.

    None where so few gain nothing from arrays, and each is to be solved by itself.
    """
    code = compiled(pattern, len(numbers)) if len(numbers) >= FEWEST else None
    return None if code is None else _together(pattern, numbers, code)


def _together(pattern: Pattern, numbers: Sequence[Sequence[float]], code: Compiled) -> Stack:
    count = len(numbers)
    with np.errstate(all="ignore"):
        settled = code.solve(list(np.array(numbers).T.copy()), np, _size)
        sound = _sound(settled, count)
        doubtful = _doubtful(settled.checks, count)
    unknowns = _table(settled.unknowns, count).tolist()
    value_table = _table(settled.values, count)
    uncertainty_table = _table(settled.uncertainties, count)
    values, uncertainties = value_table.tolist(), uncertainty_table.tolist()
    runs = _runs(pattern, settled.run, numbers)
    solved = [
        Solved(
            pattern,
            own,
            unknowns[place],
            Factors(pattern, own, unknowns[place]),
            values[place],
            uncertainties[place],
            runs[place],
            doubtful[place],
        )
        if sound[place]
        else None
        for place, own in enumerate(numbers)
    ]
    return Stack(solved, value_table, uncertainty_table)


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


def _runs(
    pattern: Pattern, stacked: Run | None, numbers: Sequence[Sequence[float]]
) -> Sequence[Run | None]:
    if stacked is None:
        return [None] * len(numbers)
    count = len(numbers)
    headings = _table(stacked[:5], count).tolist()
    slips, sines = _table(stacked.slips, count).tolist(), _table(stacked.sines, count).tolist()
    course = course_of(pattern)
    return [
        steady(course, Run(firmness, crab, crab_u, turn, turn_u, slips[place], sines[place]), own)
        for place, ((firmness, crab, crab_u, turn, turn_u), own) in enumerate(
            zip(headings, numbers, strict=True)
        )
    ]


def _table(columns: Sequence[Any], count: int) -> Table:
    """Arrays of one number for all vehicles to a table with a row for each vehicle."""
    table = np.empty((count, len(columns)))
    for place, column in enumerate(columns):
        table[:, place] = column
    return table
