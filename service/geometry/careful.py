"""Least squares for readings that contradict each other badly: shorter steps, always downhill.

Full Gauss-Newton steps can swing wider and wider where residuals are large and equations curved.
The direction still leads downhill, so halving the step until the weighted sum of squares falls
finds the least one.
"""

import math
from collections.abc import Sequence

from service.geometry.normal import Group

MOST_STEPS = 400
MOST_HALVINGS = 40

SMALL_STEP = 2e-13
"""A step below this (metres, radians, slopes) is the last one taken.

Rounding alone keeps steps of up to 2e-14 going for ever on a kingpin span over a long trailer.
"""

SETTLED = 1e-11
"""Far from agreement the last digits creep: a step below this is far below any reading."""


class SolveError(ValueError):
    """The readings contradict any vehicle, so no geometry was found."""


def solve_with_care(
    group: Group, numbers: Sequence[float], unknowns: list[float], dropped: frozenset[int]
) -> list[list[float]]:
    """Solve the unknowns of one group in place from where they stand; return the factored matrix.

    Raises SolveError where even that does not settle.
    """
    squares = _weighted_squares(group, numbers, unknowns, dropped)
    for _ in range(MOST_STEPS):
        factor, right = group.assemble(numbers, unknowns, math, dropped)
        group.factor(factor)
        step = group.solve(factor, right)
        share, found = _downhill(group, numbers, unknowns, dropped, step, squares)
        squares = found
        if share * max(map(abs, step)) < SETTLED:
            return factor
    raise SolveError("the readings contradict each other so much that no geometry fits them")


def _downhill(
    group: Group,
    numbers: Sequence[float],
    unknowns: list[float],
    dropped: frozenset[int],
    step: Sequence[float],
    squares: float,
) -> tuple[float, float]:
    """Take the largest halving of a step that does not climb: its share, and the sum there."""
    start = [unknowns[unknown] for unknown in group.order]
    share = 1.0
    for _ in range(MOST_HALVINGS):
        for place, unknown in enumerate(group.order):
            unknowns[unknown] = start[place] + share * step[place]
        found = _weighted_squares(group, numbers, unknowns, dropped)
        if found <= squares:
            return share, found
        share /= 2
    for place, unknown in enumerate(group.order):
        unknowns[unknown] = start[place]
    return 0.0, squares


def _weighted_squares(
    group: Group, numbers: Sequence[float], unknowns: Sequence[float], dropped: frozenset[int]
) -> float:
    total = 0.0
    for number, row in enumerate(group.rows):
        if number not in dropped:
            rest, _, variance = row.equation(numbers, unknowns, math)
            total += rest * rest / variance
    return total if total == total else math.inf
