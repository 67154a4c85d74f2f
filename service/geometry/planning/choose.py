"""Chooses the fewest values to move, then the least movement, in steps the adjusters allow."""

import math
from collections.abc import Iterator, Sequence
from itertools import combinations, product
from typing import NamedTuple

from service.geometry.planning.adjusters import LATERAL, LONGITUDINAL, TIE_ROD, WEDGE, Adjuster
from service.geometry.planning.chain import (
    Place,
    Step,
    keeps_limits,
    least_movement,
    reachable,
    total_movement,
)
from service.geometry.planning.scope import Limit, Row, Value

FREE = Step()
BETTER = 1 - 1e-6
"""A choice further rear must save more than this share to be preferred."""

MOST_STATES = 9
MOST_CHOICES = 20_000
"""Rounding looks at so many positions of one adjuster, and at so many of all together."""


class Choice(NamedTuple):
    """Values after the plan: as computed and as the adjusters allow; `complete` if all conform."""

    exact: list[float]
    rounded: list[float]
    complete: bool


def choose(row: Row, to_nominal: bool) -> Choice:
    """The values that a row is to have.

    Fewest moved values first; among those the least total movement, the front ones on a tie.
    Where no allowed movement reaches all limits, the nearest that the adjusters come to.
    """
    starts = [value.start for value in row.values]
    broken = any(limit.broken for limit in _all_limits(row))
    if not broken:
        return Choice(starts, starts, True)
    movable = [place for place, value in enumerate(row.values) if value.adjuster is not None]
    for count in range(1, len(movable) + 1):
        best: tuple[float, Choice] | None = None
        for moved in combinations(movable, count):
            found = _least(row, moved, to_nominal)
            if found is not None and (best is None or found[0] < best[0] * BETTER):
                best = found
        if best is not None:
            return best[1]
    return _nearest(row, movable)


def _all_limits(row: Row) -> Iterator[Limit]:
    for value in row.values:
        yield from value.limits
    for link in row.links:
        yield from link


def _least(row: Row, moved: tuple[int, ...], to_nominal: bool) -> tuple[float, Choice] | None:
    places = [_place(value, number in moved, to_nominal) for number, value in enumerate(row.values)]
    steps = [
        _step(link, number in moved or number + 1 in moved) for number, link in enumerate(row.links)
    ]
    if not reachable(places, steps):
        return None
    exact = least_movement(places, steps)
    if exact is None:
        return None
    rounded = _rounded(row, places, steps, exact, moved)
    if rounded is None:
        return None
    # A value that stays stays to the last bit: rounding in its neighbours' limits is no movement.
    for number, value in enumerate(row.values):
        if number not in moved:
            exact[number] = rounded[number] = value.start
    return total_movement(places, rounded), Choice(exact, rounded, True)


def _place(value: Value, moved: bool, to_nominal: bool) -> Place:
    """Limits of a value: all of its findings' if it moves, only the broken ones' if it stays."""
    weight = _weight(value.adjuster)
    lower, upper = _meet(value.limits, moved)
    if not moved:
        # A value that stays and is out of limits leaves nothing: the subset is no solution.
        if lower <= value.start <= upper:
            return Place(value.start, value.start, value.start, weight)
        return Place(value.start, math.inf, -math.inf, weight)
    furthest = _travel(value)
    pull = value.start if not to_nominal or value.nominal is None else value.nominal
    return Place(pull, max(lower, furthest[0]), min(upper, furthest[1]), weight)


def _step(link: Sequence[Limit], moved: bool) -> Step:
    return Step(*_meet(link, moved)) if link else FREE


def _meet(limits: Sequence[Limit], moved: bool) -> tuple[float, float]:
    lower, upper = -math.inf, math.inf
    for limit in limits:
        if moved or limit.broken:
            lower, upper = max(lower, limit.lower), min(upper, limit.upper)
    return lower, upper


def _weight(adjuster: Adjuster | None) -> float:
    """Movement at the adjusting points that a unit of the value costs."""
    return adjuster.spread if adjuster is not None and adjuster.kind == LONGITUDINAL else 1.0


def _travel(value: Value) -> tuple[float, float]:
    """Values between which the adjuster can bring it."""
    adjuster = value.adjuster
    if adjuster is None or adjuster.travel is None:
        return -math.inf, math.inf
    return moved_by(value, -adjuster.travel), moved_by(value, adjuster.travel)


def moved_by(value: Value, amount: float) -> float:
    """The value after its adjuster moved by a signed amount (see `Adjuster` for its unit)."""
    adjuster = value.adjuster
    assert adjuster is not None, "only an adjuster moves a value"
    if adjuster.kind in (LATERAL, WEDGE):
        return value.start + amount
    if adjuster.kind == LONGITUDINAL:
        # With both ends moving opposite ways each needs half of what one end alone would.
        share = 1 if adjuster.end else 2
        sine = math.sin(value.start) + share * amount / adjuster.spread
        return math.asin(min(max(sine, -1.0), 1.0))
    return value.start + amount * (adjuster.toe_per_turn() or 1.0)


def amount_of(value: Value, after: float) -> float:
    """The signed amount at the adjuster that brings the value to `after`: inverse of `moved_by`.

    A tie rod whose pitch and arm are not known answers radians of toe instead of turns.
    """
    adjuster = value.adjuster
    assert adjuster is not None, "only an adjuster moves a value"
    if adjuster.kind == LONGITUDINAL:
        share = 1 if adjuster.end else 2
        return (math.sin(after) - math.sin(value.start)) * adjuster.spread / share
    if adjuster.kind == TIE_ROD:
        return (after - value.start) / (adjuster.toe_per_turn() or 1.0)
    return after - value.start


def _has_steps(value: Value) -> bool:
    adjuster = value.adjuster
    if adjuster is None or adjuster.increment is None:
        return False
    return adjuster.kind != TIE_ROD or adjuster.toe_per_turn() is not None


def _rounded(
    row: Row, places: list[Place], steps: list[Step], exact: list[float], moved: tuple[int, ...]
) -> list[float] | None:
    """The least movement among the positions that the adjusters can take."""
    stepped = [number for number in moved if _has_steps(row.values[number])]
    if not stepped:
        return list(exact)
    states = [_states(row.values[number], places[number], exact[number]) for number in stepped]
    if math.prod(map(len, states)) > MOST_CHOICES:
        states = [some[:3] for some in states]
    best: tuple[float, list[float]] | None = None
    for chosen in product(*states):
        fixed = list(places)
        for number, state in zip(stepped, chosen, strict=True):
            fixed[number] = places[number]._replace(lower=state, upper=state)
        values = least_movement(fixed, steps) if reachable(fixed, steps) else None
        if values is None or not keeps_limits(fixed, steps, values):
            continue
        cost = total_movement(places, values)
        if best is None or cost < best[0] * BETTER:
            best = cost, values
    return None if best is None else best[1]


def _states(value: Value, place: Place, exact: float) -> list[float]:
    """Positions of a stepped adjuster within the limits, those nearest to `exact` first."""
    adjuster = value.adjuster
    assert adjuster is not None, "only a stepped adjuster has positions"
    increment = adjuster.increment or 1.0
    middle = round(amount_of(value, exact) / increment)
    around = range(middle - MOST_STATES, middle + MOST_STATES + 1)
    states = [moved_by(value, count * increment) for count in around]
    inside = [state for state in states if place.lower <= state <= place.upper]
    return sorted(inside, key=lambda state: abs(state - exact))


def _nearest(row: Row, movable: Sequence[int]) -> Choice:
    """The best that can be done where not everything can be reached: each value by itself.

    A value goes to the limit it is nearest to, or as far towards it as its adjuster reaches, and
    differences between values then follow as they may.
    """
    exact = [value.start for value in row.values]
    for number in movable:
        value = row.values[number]
        lower, upper = _meet(value.limits, moved=False)
        furthest = _travel(value)
        aimed = min(max(value.start, lower), max(upper, lower))
        exact[number] = min(max(aimed, furthest[0]), furthest[1])
    if not any(limit.broken for value in row.values for limit in value.limits):
        exact = _nearest_differences(row, movable, exact)
    rounded = [_to_step(value, after) for value, after in zip(row.values, exact, strict=True)]
    return Choice(exact, rounded, False)


def _nearest_differences(row: Row, movable: Sequence[int], exact: list[float]) -> list[float]:
    """Bring each broken difference as near as the value behind it (else before it) can go."""
    for number, link in enumerate(row.links):
        if not any(limit.broken for limit in link):
            continue
        lower, upper = _meet(link, moved=False)
        moved = number + 1 if number + 1 in movable else number
        if moved not in movable:
            continue
        if moved > number:
            aimed = exact[number] + min(max(exact[moved] - exact[number], lower), upper)
        else:
            aimed = exact[number + 1] - min(max(exact[number + 1] - exact[moved], lower), upper)
        furthest = _travel(row.values[moved])
        exact[moved] = min(max(aimed, furthest[0]), furthest[1])
    return exact


def _to_step(value: Value, after: float) -> float:
    if not _has_steps(value) or after == value.start:
        return after
    adjuster = value.adjuster
    assert adjuster is not None, "a value with steps has an adjuster"
    increment = adjuster.increment or 1.0
    count = round(amount_of(value, after) / increment)
    if adjuster.travel is not None:
        most = math.floor(adjuster.travel / increment + 1e-9)
        count = min(max(count, -most), most)
    return moved_by(value, count * increment)
