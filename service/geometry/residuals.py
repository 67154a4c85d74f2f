"""Checks redundant readings against each other and names the one that does not fit.

Normalised residuals (data snooping): a residual over its own standard deviation, which is smaller
than the reading's since the reading itself pulled the fit. Above CRITICAL a reading is suspect.
Nothing suspect is left out of the solution: a person decides which tape was read wrong.
"""

import math
from collections.abc import Sequence
from typing import NamedTuple

from service.geometry.careful import SolveError
from service.geometry.least_squares import solve_group
from service.geometry.normal import CHECKED_SHARE, CRITICAL, Group
from service.geometry.solve import Solved

MOST_SUSPECTS = 10
SAME = 1e-6
"""Relative difference below which two residuals are one contradiction seen from both ends."""


class Suspect(NamedTuple):
    """A reading (index as given), or an assumed axle (`axle` number, `reading` None)."""

    reading: int | None
    axle: int | None
    normalised_residual: float


def suspects(solved: Solved) -> list[Suspect]:
    """Return the readings of one solved vehicle that their fellows contradict, worst first.

    The worst is set aside and the rest looked at again, so that one blunder does not hide or
    imitate another. Readings that contradict each other with nothing to decide between them are
    all named.
    """
    found: list[Suspect] = []
    if not solved.doubtful:
        return found
    for number, group in enumerate(solved.pattern.groups):
        if group.redundant:
            found += _snoop(solved, group, solved.factors[number])
    # Rounded, so that two that contradict each other are always named in the same order.
    worst_first = sorted(found, key=lambda suspect: -round(abs(suspect.normalised_residual), 6))
    named: dict[tuple[int | None, int | None], Suspect] = {}
    for suspect in worst_first:
        # A sightline can fail on its difference and on its sum: it is still one reading.
        named.setdefault((suspect.reading, suspect.axle), suspect)
    return list(named.values())


def _snoop(solved: Solved, group: Group, factor: list[list[float]]) -> list[Suspect]:
    found: list[Suspect] = []
    dropped: frozenset[int] = frozenset()
    unknowns = list(solved.unknowns)
    while len(found) < MOST_SUSPECTS:
        tests = normalised_residuals(group, solved.numbers, unknowns, factor, dropped)
        worst = max((abs(test) for test in tests.values()), default=0.0)
        if worst < CRITICAL:
            break
        named = [row for row, test in tests.items() if abs(test) >= worst * (1 - SAME)]
        found += [_suspect(solved, group, row, tests[row]) for row in named]
        if len(named) > 1:
            break
        dropped |= set(named)
        try:
            factor = solve_group(group, solved.numbers, unknowns, math, dropped)
        except (SolveError, ArithmeticError):
            # What is left does not settle: the worst is named, and no more can be said.
            break
    return found


def normalised_residuals(
    group: Group,
    numbers: Sequence[float],
    unknowns: Sequence[float],
    factor: list[list[float]],
    dropped: frozenset[int] = frozenset(),
) -> dict[int, float]:
    """Normalised residual of every row of a group that other rows check, by row number."""
    return {
        check.row: check.rest / math.sqrt(check.own)
        for check in group.checks(numbers, unknowns, factor, math, dropped)
        if check.own > CHECKED_SHARE * check.variance
    }


def _suspect(solved: Solved, group: Group, row: int, test: float) -> Suspect:
    reading = group.rows[row].reading
    if reading is not None:
        return Suspect(reading, None, test)
    unknown = group.rows[row].unknowns[0]
    place = next(a.axle for a in solved.pattern.assumed if a.unknown == unknown)
    return Suspect(None, solved.pattern.shape.axles[place][0], test)
