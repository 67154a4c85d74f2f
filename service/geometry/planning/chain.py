"""Least total movement of values that stand in a row and are bounded singly and in neighbours.

Aims of axles behind each other, the wedges of two sides, or one offset by itself: each value may
have limits of its own, and so may the step from one value to the next. The cost is the weighted
sum of movements. The sum is convex and piecewise straight, so the best value of each place is
found exactly by carrying that function along the row as its kinks (no search, no tolerance).
"""

import math
from collections.abc import Sequence
from itertools import pairwise
from typing import NamedTuple

ROUNDING = 1e-13
"""Limits that meet within this (radians or metres) meet."""


class Place(NamedTuple):
    """One value: where the cost pulls it, the limits it keeps, what a unit of movement costs."""

    pull: float
    lower: float
    upper: float
    weight: float


class Step(NamedTuple):
    """Limits of the next value less this one."""

    lower: float = -math.inf
    upper: float = math.inf


class Cost:
    """A convex, piecewise straight function: slope at the far left, kinks, and its domain."""

    __slots__ = ("kinks", "lower", "slope", "upper")

    def __init__(self) -> None:
        self.slope = 0.0
        self.kinks: list[tuple[float, float]] = []
        self.lower, self.upper = -math.inf, math.inf

    def pull(self, at: float, weight: float) -> None:
        """Add the cost of moving away from `at`."""
        self.slope -= weight
        self.kinks.append((at, 2 * weight))
        self.kinks.sort()

    def confine(self, lower: float, upper: float) -> bool:
        """Keep the domain within limits; False when nothing is left of it."""
        self.lower, self.upper = max(self.lower, lower), min(self.upper, upper)
        if self.lower > self.upper + ROUNDING:
            return False
        if self.lower > self.upper:
            self.lower = self.upper = (self.lower + self.upper) / 2
        return True

    def least(self) -> float:
        """Where the function is least within its domain."""
        slope = self.slope
        at = -math.inf if slope >= 0 else math.inf
        for place, turn in self.kinks:
            if slope >= 0:
                break
            slope += turn
            at = place
        if slope < 0:
            at = math.inf
        nearest_zero = min(max(0.0, self.lower), self.upper) if math.isinf(at) else at
        return min(max(nearest_zero if self.slope == 0 else at, self.lower), self.upper)

    def after(self, step: Step) -> "Cost":
        """The least cost of what came before as a function of the next value.

        Left of the least point the next value is reached by the lowest allowed step, right of it by
        the highest; between the two it costs nothing more.
        """
        best = self.least()
        following = Cost()
        following.lower, following.upper = self.lower + step.lower, self.upper + step.upper
        slope, left, right = self.slope, [], []
        rising = 0.0
        for at, turn in self.kinks:
            if at < best:
                left.append((at + step.lower, turn))
                slope += turn
            elif at > best:
                right.append((at + step.upper, turn))
            else:
                rising += turn
        falls = min(slope, 0.0) if best > self.lower else 0.0
        rises = max(slope + rising, 0.0) if best < self.upper else 0.0
        if best <= self.lower:
            left = []
        following.slope = self.slope if left or falls else 0.0
        if falls and not left:
            following.slope = falls
        if not math.isfinite(step.lower):
            left, falls, following.slope = [], 0.0, 0.0
        middle = [(best + step.lower, -falls)] if falls else []
        beyond = [(best + step.upper, rises)] if rises and math.isfinite(step.upper) else []
        following.kinks = [*left, *middle, *beyond]
        if math.isfinite(step.upper):
            following.kinks += right
        return following


def reachable(places: Sequence[Place], steps: Sequence[Step]) -> bool:
    """Whether any values keep all limits."""
    lower, upper = places[0].lower, places[0].upper
    for place, step in zip(places[1:], steps, strict=True):
        if lower > upper + ROUNDING:
            return False
        lower, upper = max(lower + step.lower, place.lower), min(upper + step.upper, place.upper)
    return lower <= upper + ROUNDING


def least_movement(places: Sequence[Place], steps: Sequence[Step]) -> list[float] | None:
    """Values that keep all limits at the least total movement, or None where none do."""
    cost, costs, bests = Cost(), [], []
    for number, place in enumerate(places):
        if number:
            cost = cost.after(steps[number - 1])
        if not cost.confine(place.lower, place.upper):
            return None
        cost.pull(place.pull, place.weight)
        costs.append(cost)
        bests.append(cost.least())
    values = [bests[-1]]
    for best, step in zip(reversed(bests[:-1]), reversed(steps), strict=True):
        following = values[-1]
        values.append(min(max(best, following - step.upper), following - step.lower))
    return values[::-1]


def total_movement(places: Sequence[Place], values: Sequence[float]) -> float:
    """What moving each place from its pull to its value costs."""
    return math.fsum(p.weight * abs(v - p.pull) for p, v in zip(places, values, strict=True))


def keeps_limits(places: Sequence[Place], steps: Sequence[Step], values: Sequence[float]) -> bool:
    """Whether the values keep every limit, rounding aside."""
    own = all(
        p.lower - ROUNDING <= v <= p.upper + ROUNDING for p, v in zip(places, values, strict=True)
    )
    return own and all(
        s.lower - ROUNDING <= after - before <= s.upper + ROUNDING
        for s, (before, after) in zip(steps, pairwise(values), strict=True)
    )
