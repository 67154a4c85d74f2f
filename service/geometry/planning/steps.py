"""Positions that adjusters can take in their steps: whole shims, parts of a turn, half degrees."""

import math
from collections.abc import Sequence
from typing import NamedTuple

from service.geometry.planning.chain import ROUNDING, Well, costs_of, least_cost, price
from service.geometry.planning.effort import Effort
from service.geometry.planning.moving import amount_of, increment_of, moved_by
from service.geometry.planning.rows import Value

PENALTY = 1e5
"""What a finding costs outside its limits, by the unit: far more than any movement saves."""

OPEN_PENALTY = 3e2
"""The same of a finding that is merely undecided: drawn inside by a move that is made anyway, but
no reason to move, and, however many there are, none to leave what is broken as it is."""

NOT_OUT = 1e-10
"""Excess below this (metres, radians) is rounding."""

FAINT = 1e-5
"""Weight of the nominal where a plan moves to limits: of values that cost the same movement those
nearest to nominal are taken, which leaves the technician the widest bands. No movement's cost."""

ON_STEP = 1e-9
"""Share of an increment within which a position is on a step."""


class Cost(NamedTuple):
    """By how much findings stay out, broken and undecided ones, and the movement.

    With steps no movement outweighs the others: between two steps a whole step of it is at stake,
    however little stays out.
    """

    excess: float
    unsure: float
    movement: float

    def better_than(self, other: "Cost") -> bool:
        """Less left out, else less left undecided, else less movement."""
        if abs(self.excess - other.excess) > NOT_OUT:
            return self.excess < other.excess
        if abs(self.unsure - other.unsure) > NOT_OUT:
            return self.unsure < other.unsure
        return self.movement < other.movement * (1 - 1e-9)


def in_steps(
    values: Sequence[Value],
    places: list[Well],
    steps: Sequence[Well],
    exact: list[float],
    effort: Effort,
) -> list[float] | None:
    """The least cost of values whose adjusters move in steps; `exact` is that without steps.

    None where no position keeps all limits, which standing still always does, or where none was
    found before the effort was used up.
    """
    stepped = [place for place, value in enumerate(values) if _increment(value) is not None]
    if not stepped:
        return exact
    if len(values) == 1:
        return [_nearest_step(values[0], places[0], exact[0])]
    return _by_branches(values, stepped, places, steps, exact, effort)


def _increment(value: Value) -> float | None:
    return None if value.adjuster is None else increment_of(value.adjuster)


def _nearest_step(value: Value, place: Well, exact: float) -> float:
    """The better of the steps below and above, for one value by itself: its cost is convex."""
    count = _count(value, exact)
    if abs(count - round(count)) <= ON_STEP * max(1.0, abs(count)):
        return _step(value, round(count))
    around = [_step(value, step) for step in (math.floor(count), math.ceil(count))]
    # Where it stands is a step too and within reach, so that one of the two always is.
    inside = [at for at in around if place.lower - ROUNDING <= at <= place.upper + ROUNDING]
    costs = [_cost([place], [], [at]) for at in inside]
    return inside[1] if len(inside) > 1 and costs[1].better_than(costs[0]) else inside[0]


def _by_branches(
    values: Sequence[Value],
    stepped: Sequence[int],
    places: list[Well],
    steps: Sequence[Well],
    exact: list[float],
    effort: Effort,
) -> list[float] | None:
    """The best positions that the adjusters can take, by branching below and above each step.

    A branch whose cost without steps is no better than what was found with them is left.
    """
    best: list[float] | None = None
    least = Cost(math.inf, math.inf, math.inf)
    waiting = [(places, exact)]
    near, known = [value.start for value in values], costs_of(steps)
    while waiting and effort.spent():
        bound, found = waiting.pop()
        cost = _cost(bound, steps, found)
        if not cost.better_than(least):
            continue
        place, count = _between_steps(values, stepped, found)
        if place is None:
            best, least = _on_steps(values, stepped, found), cost
            continue
        nearest_last = sorted(
            (math.floor(count), math.ceil(count)), key=lambda step: -abs(step - count)
        )
        for step in nearest_last:
            narrowed = _narrowed(bound, values[place], place, step, below=step < count)
            then = least_cost(narrowed, steps, near, known)
            if then is not None:
                waiting.append((narrowed, then))
    return best


def weighed(
    places: Sequence[Well], steps: Sequence[Well], values: Sequence[float]
) -> tuple[float, float, float, float]:
    """By how much values leave broken and undecided findings out, and what else they cost.

    That is the movement, and last how far they are from nominal, which is none.
    """
    excess = unsure = movement = faint = 0.0
    for distance, weight in price(places, steps, values):
        if weight == PENALTY:
            excess += distance
        elif weight == OPEN_PENALTY:
            unsure += distance
        elif weight == FAINT:
            faint += distance * weight
        else:
            movement += distance * weight
    return excess, unsure, movement, faint


def _cost(places: Sequence[Well], steps: Sequence[Well], values: Sequence[float]) -> Cost:
    excess, unsure, movement, faint = weighed(places, steps, values)
    return Cost(excess, unsure, movement + faint)


def _between_steps(
    values: Sequence[Value], stepped: Sequence[int], found: Sequence[float]
) -> tuple[int | None, float]:
    """The first value that lies between two steps of its adjuster, in steps."""
    for place in stepped:
        count = _count(values[place], found[place])
        if abs(count - round(count)) > ON_STEP * max(1.0, abs(count)):
            return place, count
    return None, 0.0


def _count(value: Value, at: float) -> float:
    assert value.adjuster is not None, "only an adjuster has steps"
    return amount_of(value.adjuster, value.start, at) / (_increment(value) or 1.0)


def _step(value: Value, count: int) -> float:
    assert value.adjuster is not None, "only an adjuster has steps"
    return moved_by(value.adjuster, value.start, count * (_increment(value) or 1.0))


def _narrowed(
    places: list[Well], value: Value, place: int, step: int, *, below: bool
) -> list[Well]:
    narrowed, at = list(places), _step(value, step)
    lower, upper, pulls = places[place]
    if below:
        upper = min(upper, at)
    else:
        lower = max(lower, at)
    narrowed[place] = Well(lower, upper, pulls)
    return narrowed


def _on_steps(
    values: Sequence[Value], stepped: Sequence[int], found: Sequence[float]
) -> list[float]:
    """The same positions without what rounding left between them and their steps."""
    snapped = list(found)
    for place in stepped:
        snapped[place] = _step(values[place], round(_count(values[place], found[place])))
    return snapped
