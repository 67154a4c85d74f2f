"""Moves values that stand next to each other, the ones around them staying, at the least cost."""

import math
from collections.abc import Iterator, Sequence
from itertools import product
from typing import NamedTuple

from service.geometry.planning.chain import Well, least_cost, price
from service.geometry.planning.moving import reach_of, weight_of
from service.geometry.planning.rows import MATCH_WEDGES, Limit, Link, Row, Value
from service.geometry.planning.steps import in_steps

PENALTY = 1e4
"""What a finding costs outside its limits, by the unit: far more than any movement saves."""

NEAR_NOMINAL = 0.25
"""Weight of a difference's own nominal beside that of each value's own."""

TIE_BREAKER = 1e-3
"""Weight of movement where the nominal is what counts."""

THICKER = 1e-4
"""By what share a thicker wedge costs more than a thinner one. Of changes as large as each other
the one that leaves less wedge is made, on whichever side: so a mirrored vehicle gets the mirrored
plan."""

NOT_OUT = 1e-10
"""Excess below this (metres, radians) is rounding."""

SAME = 1e-6
"""Two choices whose movement differs by no more than this share are equally good."""

MOST_MAKES = 64
"""So many combinations of the adjusters that neighbours have are tried, else the first of each."""


class Run(NamedTuple):
    """Values of a run as they are moved: as computed, and in steps that the adjusters allow.

    `excess` is by how much findings stay outside their limits, `cost` the movement.
    """

    excess: float
    cost: float
    values: list[Value]
    exact: list[float]
    rounded: list[float]


def solved_run(row: Row, first: int, last: int, to_nominal: bool) -> Run | None:
    """Move the places `first` up to (not with) `last`; None where one has no adjuster."""
    best: Run | None = None
    for values in _makes(row.places[first:last]):
        if any(value.adjuster is None for value in values):
            return None
        places = [_well(value, to_nominal) for value in values]
        steps = [_link_well(link, to_nominal) for link in row.links[first : last - 1]]
        _anchor(places, row, first, last, to_nominal)
        found = _least(values, places, steps)
        if found is not None and (best is None or _dearer(best, found)):
            best = found
    return best


def _makes(places: Sequence[list[Value]]) -> Iterator[tuple[Value, ...]]:
    if math.prod(map(len, places)) > MOST_MAKES:
        places = [values[:1] for values in places]
    return product(*places)


def _dearer(known: Run, other: Run) -> bool:
    """Whether another run of the same places leaves less out, or moves less for as much."""
    if abs(known.excess - other.excess) > NOT_OUT:
        return other.excess < known.excess
    return other.cost < known.cost * (1 - SAME)


def _well(value: Value, to_nominal: bool) -> Well:
    """Reach and limits of a value that moves, and what its movement costs."""
    adjuster = value.adjuster
    assert adjuster is not None, "only an adjuster moves a value"
    weight, start = weight_of(adjuster), value.start
    reach = reach_of(adjuster, start)
    pulls = []
    if to_nominal and value.nominal is not None:
        pulls.append((value.nominal, value.nominal, weight))
        weight *= TIE_BREAKER
    elif to_nominal:
        weight *= TIE_BREAKER
    pulls.append((start, start, weight))
    if value.action == MATCH_WEDGES:
        pulls.append((-math.inf, start, weight * THICKER))
    return _bounded(value.limits, reach, pulls)


def _link_well(link: Link, to_nominal: bool) -> Well:
    pulls = []
    if to_nominal and link.nominal is not None:
        pulls.append((link.nominal, link.nominal, NEAR_NOMINAL))
    return _bounded(link.limits, (-math.inf, math.inf), pulls)


def _bounded(
    limits: Sequence[Limit], within: tuple[float, float], pulls: list[tuple[float, float, float]]
) -> Well:
    """No finding goes further out than it is, and one that is out is drawn inside."""
    lower, upper = within
    for _, low, high, _, is_open, excess in limits:
        if low - excess > lower:
            lower = low - excess
        if high + excess < upper:
            upper = high + excess
        if is_open:
            pulls.append((low, high, PENALTY))
    return Well(lower, upper, tuple(pulls))


def _anchor(places: list[Well], row: Row, first: int, last: int, to_nominal: bool) -> None:
    """Bind the ends of a run to their neighbours, which stay where they are."""
    if first > 0:
        step = _link_well(row.links[first - 1], to_nominal)
        places[0] = _both(places[0], step.shifted(row.places[first - 1][0].start))
    if last < len(row.places):
        step = _link_well(row.links[last - 1], to_nominal)
        places[-1] = _both(places[-1], step.reflected(row.places[last][0].start))


def _both(one: Well, other: Well) -> Well:
    pulls = one.pulls + other.pulls
    return Well(max(one.lower, other.lower), min(one.upper, other.upper), pulls)


def _least(values: tuple[Value, ...], places: list[Well], steps: list[Well]) -> Run | None:
    exact = least_cost(places, steps, [value.start for value in values])
    if exact is None:
        return None
    rounded = in_steps(values, places, steps, exact)
    if rounded is None:
        return None
    given = price(places, steps, rounded)
    excess = math.fsum(distance for distance, weight in given if weight == PENALTY)
    cost = math.fsum(distance * weight for distance, weight in given if weight != PENALTY)
    return Run(excess, cost, list(values), exact, list(rounded))
