"""Solves vehicles of one pattern together, as stacked arrays, by the formulas for one."""

from collections.abc import Iterator, Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from service.geometry.careful import SMALL_STEP, SolveError
from service.geometry.compiled import Compiled, Settled, compiled
from service.geometry.course import Run, course_of
from service.geometry.normal import CHECKED_SHARE, CRITICAL
from service.geometry.pattern import Pattern
from service.geometry.solve import Factors, Solved, solve_numbers, steady

FEWEST = 12
"""Below this many vehicles the arrays cost more than they save."""

Stack = NDArray[np.float64]


def solve_stack(
    pattern: Pattern, numbers: Sequence[Sequence[float]]
) -> Iterator[Solved | Exception]:
    """Solve vehicles whose numbers fit one pattern, in their order.

    One that contradicts itself is solved with care by itself, and does not hold up the rest; where
    no geometry fits it, the SolveError or ArithmeticError stands in its place.
    """
    code = compiled(pattern, len(numbers)) if len(numbers) >= FEWEST else None
    if code is None:
        return map(_alone, [pattern] * len(numbers), numbers)
    return _together(pattern, numbers, code)


def _alone(pattern: Pattern, numbers: Sequence[float]) -> Solved | Exception:
    try:
        return solve_numbers(pattern, numbers)
    except (SolveError, ArithmeticError) as error:
        return error


def _together(
    pattern: Pattern, numbers: Sequence[Sequence[float]], code: Compiled
) -> Iterator[Solved | Exception]:
    count = len(numbers)
    with np.errstate(all="ignore"):
        settled = code.solve(list(np.array(numbers).T.copy()), np, _size)
        sound = _sound(settled, count)
        doubtful = _doubtful(settled.checks, count)
    unknowns = _by_vehicle(settled.unknowns, count)
    values = _by_vehicle(settled.values, count)
    uncertainties = _by_vehicle(settled.uncertainties, count)
    runs = _runs(pattern, settled.run, numbers)
    for place, own in enumerate(numbers):
        if not sound[place]:
            yield _alone(pattern, own)
            continue
        p = unknowns[place]
        factors = Factors(pattern, own, p)
        yield Solved(
            pattern,
            own,
            p,
            factors,
            values[place],
            uncertainties[place],
            runs[place],
            doubtful[place],
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


def _runs(
    pattern: Pattern, stacked: Run | None, numbers: Sequence[Sequence[float]]
) -> Sequence[Run | None]:
    if stacked is None:
        return [None] * len(numbers)
    headings = _by_vehicle(stacked[:5], len(numbers))
    slips, sines = (
        _by_vehicle(stacked.slips, len(numbers)),
        _by_vehicle(stacked.sines, len(numbers)),
    )
    course = course_of(pattern)
    return [
        steady(course, Run(firmness, crab, crab_u, turn, turn_u, slips[place], sines[place]), own)
        for place, ((firmness, crab, crab_u, turn, turn_u), own) in enumerate(
            zip(headings, numbers, strict=True)
        )
    ]


def _by_vehicle(columns: Sequence[Any], count: int) -> list[list[float]]:
    """Arrays of one number for all vehicles to lists of all numbers for one vehicle."""
    table = np.empty((count, len(columns)))
    for place, column in enumerate(columns):
        table[:, place] = column
    rows: list[list[float]] = table.tolist()
    return rows
