"""Least cost of values that stand in a row and are bounded singly and in neighbours.

Aims of axles behind each other, the wedges of two sides, or one offset by itself: each value may
have limits of its own, and so may the step from one value to the next, some that must hold and
some that cost where they do not. The cost is convex and piecewise straight, so the best value of
each place is found exactly by carrying the cost along the row as its kinks (no search, no
tolerance).
"""

import math
from collections.abc import Sequence
from typing import NamedTuple

ROUNDING = 1e-13
"""Limits that meet within this (radians or metres) meet."""

FLAT = 1e-7
"""A slope no larger than this either way is what is left of weights that should have cancelled."""

Pull = tuple[float, float, float]
"""Cost by distance outside an interval: its lower and upper end, and the weight."""
Kink = tuple[float, float]
"""Where a slope changes, and by how much."""
Span = tuple[float, float, float]
"""Slopes from which and to which a kink turns, and where."""


class Well(NamedTuple):
    """What holds one value, or one step from a value to the next: limits it keeps, and pulls."""

    lower: float = -math.inf
    upper: float = math.inf
    pulls: tuple[Pull, ...] = ()

    def reflected(self, at: float) -> "Well":
        """The well of x where this is that of `at` less x."""
        pulls = tuple([(at - high, at - low, weight) for low, high, weight in self.pulls])
        return Well(at - self.upper, at - self.lower, pulls)


class Cost:
    """A convex, piecewise straight function: its domain, slope at the far left, sorted kinks."""

    __slots__ = ("kinks", "lower", "slope", "turns", "upper")

    def __init__(
        self,
        slope: float = 0.0,
        kinks: list[Kink] | None = None,
        lower: float = -math.inf,
        upper: float = math.inf,
    ) -> None:
        self.slope = slope
        self.kinks: list[Kink] = [] if kinks is None else kinks
        self.lower, self.upper = lower, upper
        self.turns: list[Span] | None = None  # Its spans, once they were asked for.

    def added(self, well: Well) -> "Cost | None":
        """This and what a well costs; None where their limits leave nothing."""
        lower, upper, pulls = well
        if self.lower > lower:
            lower = self.lower
        if self.upper < upper:
            upper = self.upper
        if lower > upper:
            if lower > upper + ROUNDING:
                return None
            lower = upper = (lower + upper) / 2
        slope, kinks = self.slope, self.kinks.copy()
        for low, high, weight in pulls:
            if low > -math.inf:
                slope -= weight
                kinks.append((low, weight))
            if high < math.inf:
                kinks.append((high, weight))
        kinks.sort()
        return Cost(slope, kinks, lower, upper)

    def least(self, near: float) -> float:
        """Where the function is least; where it is so all along a stretch, the place nearest."""
        slope, low, high = self.slope, self.lower, self.upper
        if slope > FLAT:
            # It rises from where it begins, which an end of another place's reach can make it do.
            return low
        for place, turn in self.kinks:
            if slope < -FLAT:
                low = place
            slope += turn
            if slope > FLAT:
                high = place
                break
        if slope < -FLAT:
            low = high
        at = min(max(near, low), max(low, high))
        return min(max(at, self.lower), self.upper)

    def spans(self) -> list[Span]:
        """Kinks within the domain as slopes from and to, its ends turning to and from infinity."""
        if self.turns is not None:
            return self.turns
        found: list[Span] = []
        slope, lower, upper = self.slope, self.lower, self.upper
        inside: list[Kink] = [(lower, 0.0)] if lower > -math.inf else []
        for kink in self.kinks:
            if kink[0] <= lower:
                slope += kink[1]
            elif kink[0] < upper:
                inside.append(kink)
        for place, turn in inside:
            found.append((slope if found or turn else -math.inf, slope + turn, place))
            slope += turn
        if upper < math.inf:
            found.append((slope, math.inf, upper))
        self.turns = found
        return found

    def after(self, step: "Cost") -> "Cost":
        """Least cost of a value and the step from it, as a function of where the step leads.

        Where both functions have one slope their places add up (the infimal convolution of convex
        functions), so the kinks of both are merged by slope.
        """
        own, other = self.spans(), step.spans()
        at = max(own[0][0] if own else self.slope, other[0][0] if other else step.slope)
        last = min(own[-1][1] if own else self.slope, other[-1][1] if other else step.slope)
        following = Cost(at)
        if at < last:
            following.turn_by(own, other, at, last)
        if math.isinf(following.slope):
            following.slope = 0.0
        return following

    def turn_by(self, own: Sequence[Span], other: Sequence[Span], at: float, last: float) -> None:
        """Add the kinks of two functions from a slope to another, where their places add up."""
        here, there = iter(own), iter(other)
        (_, own_to, own_at), (_, other_to, other_at) = next(here), next(there)
        while at < last:
            while own_to <= at:
                _, own_to, own_at = next(here)
            while other_to <= at:
                _, other_to, other_at = next(there)
            top, place = own_to if own_to < other_to else other_to, own_at + other_at
            if at == -math.inf:
                self.lower, self.slope = place, top
                if top == math.inf:
                    self.upper = place
            elif top == math.inf:
                self.upper = place
            else:
                self.kinks.append((place, top - at))
            at = top


NOTHING = Cost()


def costs_of(steps: Sequence[Well]) -> list[Cost | None]:
    """What steps cost, for those who ask for the least cost of the same steps again and again."""
    return [NOTHING.added(step) for step in steps]


def least_cost(
    places: Sequence[Well],
    steps: Sequence[Well],
    near: Sequence[float],
    known: Sequence[Cost | None] | None = None,
) -> list[float] | None:
    """Values that keep all limits at the least cost, or None where none do.

    Of equally good ones the last stays nearest to its `near`, then the one before it, and so on.
    `known` is what the steps cost, where that was worked out before (`costs_of`).
    """
    cost = NOTHING.added(places[0])
    if not steps:
        return None if cost is None else [cost.least(near[0])]
    costs = [cost]
    step_costs = costs_of(steps) if known is None else known
    for place, between in zip(places[1:], step_costs, strict=True):
        if cost is None or between is None:
            return None
        cost = cost.after(between).added(place)
        costs.append(cost)
    if cost is None:
        return None
    values = [cost.least(near[-1])]
    for number in range(len(steps) - 1, -1, -1):
        before = costs[number]
        assert before is not None, "a row is left at its first place without values"
        best = before.added(steps[number].reflected(values[-1]))
        if best is None:
            return None
        values.append(best.least(near[number]))
    return values[::-1]


def price(
    places: Sequence[Well], steps: Sequence[Well], values: Sequence[float]
) -> list[tuple[float, float]]:
    """Distance and weight of every pull that the values give way to."""
    found: list[tuple[float, float]] = []
    for well, value in zip(places, values, strict=True):
        _give_way(well, value, found)
    for number, well in enumerate(steps):
        _give_way(well, values[number + 1] - values[number], found)
    return found


def _give_way(well: Well, value: float, found: list[tuple[float, float]]) -> None:
    for low, high, weight in well.pulls:
        if value < low:
            found.append((low - value, weight))
        elif value > high:
            found.append((value - high, weight))
