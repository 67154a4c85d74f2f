"""Which one reading more would settle the undecided findings best.

Adding a reading with derivatives H and covariance R takes g C H' (H C H' + R)^-1 H C g' off the
variance of a quantity with derivatives g, C being the covariance of the unknowns (the update of
sequential least squares). The reading that takes off the largest share, summed over the findings,
is proposed.
"""

import math
from collections.abc import Sequence
from typing import NamedTuple

from service.geometry.findings import Finding
from service.geometry.planning.candidates import Candidate, Sureness, candidates
from service.geometry.solve import Solved

UNDETERMINED = "undetermined"
WORTHWHILE = 0.02
"""A reading that takes less than this share off the variance is not worth the walk."""

UNMOVED = 1e-6
"""What a change of size 1 makes of a reading (metres, radians) that does not notice it."""


class Advice(NamedTuple):
    """The reading to take: by finding, the standard uncertainty it would leave."""

    candidate: Candidate
    findings: dict[int, float]


def next_reading(solved: Solved, findings: Sequence[Finding], sureness: Sureness) -> Advice | None:
    """The reading that would settle the undecided findings best; None if none is undecided."""
    undecided = [
        (number, finding.quantity)
        for number, finding in enumerate(findings)
        if finding.verdict == UNDETERMINED
    ]
    if not undecided:
        return None
    spreads = [_spread(solved, quantity) for _, quantity in undecided]
    variances = [solved.uncertainties[quantity] ** 2 for _, quantity in undecided]
    best: tuple[float, Candidate, list[float]] | None = None
    for could in candidates(solved, sureness):
        candidate = _told(solved, could)
        lost = _variances_lost(solved, candidate, spreads)
        share = sum(gone / had for gone, had in zip(lost, variances, strict=True))
        if share > WORTHWHILE and (best is None or share > best[0] * (1 + 1e-9)):
            best = share, candidate, lost
    if best is None:
        return None
    left = {
        number: math.sqrt(max(had - gone, 0.0))
        for (number, _), had, gone in zip(undecided, variances, best[2], strict=True)
        if gone > WORTHWHILE / 10 * had
    }
    return Advice(best[1], left)


def _told(solved: Solved, candidate: Candidate) -> Candidate:
    """A candidate without what it says of a change that no reading so far would notice.

    Such an equation only settles that change, and leaves all that is told as it is.
    """
    unnoticed = solved.pattern.unnoticed
    if not unnoticed:
        return candidate
    says = [
        equation
        for equation in candidate.says
        if all(abs(_dot(change, equation.slopes)) < UNMOVED for change in unnoticed)
    ]
    return candidate._replace(says=tuple(says))


def _spread(solved: Solved, quantity: int) -> dict[int, float]:
    """C g: covariance of a quantity with every unknown of its groups."""
    told = solved.pattern.quantities[quantity]
    _, slopes = told.tell(solved.numbers, solved.unknowns, math)
    return _times_covariance(solved, list(zip(told.unknowns, slopes, strict=True)))


def _times_covariance(solved: Solved, gradient: Sequence[tuple[int, float]]) -> dict[int, float]:
    pattern = solved.pattern
    rights: dict[int, list[float]] = {}
    for unknown, slope in gradient:
        number = pattern.group_of.get(unknown)
        if number is not None:
            group = pattern.groups[number]
            right = rights.setdefault(number, [0.0] * group.size)
            right[group.place[unknown]] += slope
    spread: dict[int, float] = {}
    for number, right in rights.items():
        group = pattern.groups[number]
        solution = group.solve(solved.factors[number], right)
        spread.update(zip(group.order, solution, strict=True))
    return spread


def _variances_lost(
    solved: Solved, candidate: Candidate, spreads: Sequence[dict[int, float]]
) -> list[float]:
    """By how much a reading would lower the variance of each undecided quantity."""
    if not candidate.says:
        return [0.0] * len(spreads)
    shared = [[_dot(spread, equation.slopes) for equation in candidate.says] for spread in spreads]
    if not any(any(row) for row in shared):
        return [0.0] * len(spreads)
    own = [_times_covariance(solved, equation.slopes) for equation in candidate.says]
    first = candidate.says[0]
    total = first.variance + _dot(own[0], first.slopes)
    lost = [row[0] * row[0] / total for row in shared]
    if len(own) == 2:
        # What the second equation adds once the first is known.
        second = candidate.says[1]
        between = _dot(own[0], second.slopes)
        rest = second.variance + _dot(own[1], second.slopes) - between * between / total
        for place, row in enumerate(shared):
            remaining = row[1] - row[0] * between / total
            lost[place] += remaining * remaining / rest
    return lost


def _dot(spread: dict[int, float], slopes: Sequence[tuple[int, float]]) -> float:
    return sum(spread.get(unknown, 0.0) * slope for unknown, slope in slopes)
