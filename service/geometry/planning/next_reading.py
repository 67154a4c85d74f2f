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
    covariance = _Covariance(solved)
    spreads = [covariance.of_quantity(quantity) for _, quantity in undecided]
    variances = [solved.uncertainties[quantity] ** 2 for _, quantity in undecided]
    best: tuple[float, Candidate, list[float]] | None = None
    for could in candidates(solved, sureness, frozenset().union(*spreads)):
        candidate = _told(solved, could)
        lost = _variances_lost(covariance, candidate, spreads)
        if lost is None:
            continue
        share = 0.0
        for gone, had in zip(lost, variances, strict=True):
            share += gone / had
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


class _Covariance:
    """Covariance of the unknowns of a solved vehicle, each group's factor worked out once."""

    def __init__(self, solved: Solved) -> None:
        self.solved = solved
        self.factors: dict[int, list[list[float]]] = {}

    def of_quantity(self, quantity: int) -> dict[int, float]:
        """C g: covariance of a quantity with every unknown of its groups."""
        solved = self.solved
        told = solved.pattern.quantities[quantity]
        _, slopes = told.tell(solved.numbers, solved.unknowns, math)
        return self.times(list(zip(told.unknowns, slopes, strict=True)))

    def times(self, gradient: Sequence[tuple[int, float]]) -> dict[int, float]:
        """Covariance of what has a gradient with every unknown of the groups that it touches."""
        pattern, factors = self.solved.pattern, self.factors
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
            if number not in factors:
                factors[number] = self.solved.factors[number]
            spread.update(zip(group.order, group.solve(factors[number], right), strict=True))
        return spread


def _variances_lost(
    covariance: _Covariance, candidate: Candidate, spreads: Sequence[dict[int, float]]
) -> list[float] | None:
    """By how much a reading lowers the variance of each undecided quantity, None if by nothing."""
    says = candidate.says
    shared = [[_dot(spread, equation.slopes) for equation in says] for spread in spreads]
    if not any(map(any, shared)):
        return None
    first = says[0]
    own = covariance.times(first.slopes)
    total = first.variance + _dot(own, first.slopes)
    lost = [row[0] * row[0] / total for row in shared]
    if len(says) == 2:
        # What the second equation adds once the first is known.
        second = says[1]
        between = _dot(own, second.slopes)
        rest = second.variance + _dot(covariance.times(second.slopes), second.slopes)
        rest -= between * between / total
        for place, row in enumerate(shared):
            remaining = row[1] - row[0] * between / total
            lost[place] += remaining * remaining / rest
    return lost


def _dot(spread: dict[int, float], slopes: Sequence[tuple[int, float]]) -> float:
    total = 0.0
    for unknown, slope in slopes:
        if unknown in spread:
            total += spread[unknown] * slope
    return total
