"""Moves values that stand next to each other, the ones around them staying, at the least cost."""

import math
from collections.abc import Iterator, Sequence
from itertools import product
from typing import NamedTuple

from service.geometry.planning.chain import Well, least_cost, price
from service.geometry.planning.effort import Effort
from service.geometry.planning.moving import increment_of, reach_of, weight_of
from service.geometry.planning.rows import MATCH_WEDGES, Limit, Link, Row, Value
from service.geometry.planning.steps import NOT_OUT, OPEN_PENALTY, PENALTY, in_steps

NEAR_NOMINAL = 0.25
"""Weight of a difference's own nominal beside that of each value's own."""

TIE_BREAKER = 1e-3
"""Weight of movement where the nominal is what counts."""

THICKER = 1e-4
"""By what share a thicker wedge costs more than a thinner one. Of changes as large as each other
the one that leaves less wedge is made, on whichever side: so a mirrored vehicle gets the mirrored
plan."""

FAINT = 1e-5
"""Weight of the nominal where a plan moves to limits: of values that cost the same movement those
nearest to nominal are taken, which leaves the technician the widest bands. No movement's cost."""

NO_MOVEMENT = frozenset({PENALTY, OPEN_PENALTY, FAINT})
"""Weights of what costs, but is no movement."""

SAME = 1e-6
"""Two choices whose movement differs by no more than this share are equally good."""

MOST_MAKES = 64
"""So many combinations of the adjusters that neighbours have are tried; of more, the furthest
reaching adjuster of each."""

NO_STEPS: list[Well] = []
"""The steps of a value by itself."""


class Run(NamedTuple):
    """Values of a run as they are moved: as computed, and in steps that the adjusters allow.

    `excess` is by how much broken findings stay outside their limits, `unsure` by how much the
    undecided ones do, `cost` the movement.
    """

    excess: float
    unsure: float
    cost: float
    values: list[Value]
    exact: list[float]
    rounded: list[float]


class Try(NamedTuple):
    """A run by one adjuster of each place, without steps: what no steps can better."""

    excess: float
    unsure: float
    cost: float
    values: Sequence[Value]
    places: list[Well]
    steps: list[Well]
    exact: list[float]


def solved_run(
    row: Row, first: int, last: int, to_nominal: bool, effort: Effort, enough: float
) -> Run | None:
    """Move the places `first` up to (not with) `last`; None where that cannot be.

    Nor is anything found that leaves out more than `enough`, or once the effort is used up.
    """
    places = row.places[first:last]
    if max(map(len, places)) == 1:
        # Each place has one adjuster, as usual: nothing to be weighed against each other.
        one = _tried([values[0] for values in places], row, first, last, to_nominal, effort)
        return None if one is None or one.excess > enough + NOT_OUT else _stepped(one, effort)
    tries = [_tried(values, row, first, last, to_nominal, effort) for values in _makes(places)]
    useful = [one for one in tries if one is not None and one.excess <= enough + NOT_OUT]
    useful.sort(key=_measures)
    best: Run | None = None
    for one in useful:
        if best is not None and not _dearer(best, one):
            break
        found = _stepped(one, effort)
        if found is not None and (best is None or _dearer(best, found)):
            best = found
    return best


def _tried(
    values: Sequence[Value], row: Row, first: int, last: int, to_nominal: bool, effort: Effort
) -> Try | None:
    if None in [value.adjuster for value in values] or not effort.spent():
        return None
    size = len(row.places)
    places = [_well(value, to_nominal, size) for value in values]
    if size == 1:
        steps = NO_STEPS
    else:
        steps = [_link_well(link, to_nominal) for link in row.links[first : last - 1]]
        _anchor(places, row, first, last, to_nominal)
    exact = least_cost(places, steps, [value.start for value in values])
    if exact is None:
        return None
    return Try(*_weighed(places, steps, exact), values, places, steps, exact)


def _makes(places: Sequence[list[Value]]) -> Iterator[tuple[Value, ...]]:
    places = [_useful(values) for values in places]
    if math.prod(map(len, places)) > MOST_MAKES:
        places = [[max(values, key=_width)] for values in places]
    return product(*places)


def _useful(values: list[Value]) -> list[Value]:
    """Values by the adjusters of an axle, without those that another one outdoes in all."""
    kept: list[Value] = []
    for value in values:
        if not any(_outdoes(other, value) for other in kept):
            kept = [other for other in kept if not _outdoes(value, other)] + [value]
    return kept


def _outdoes(one: Value, other: Value) -> bool:
    """Whether an adjuster takes a value wherever another one does, with no more movement."""
    by, against = one.adjuster, other.adjuster
    if by is None or against is None or weight_of(by) > weight_of(against):
        return False
    alike = by.spread == against.spread and (by.end is None) == (against.end is None)
    if increment_of(by) is not None and not (alike and by.increment == against.increment):
        return False
    (low, high), (lowest, highest) = reach_of(by, one.start), reach_of(against, other.start)
    return low <= lowest and highest <= high


def _width(value: Value) -> float:
    assert value.adjuster is not None, "an axle without an adjuster has but one make"
    low, high = reach_of(value.adjuster, value.start)
    return high - low


def _measures(one: Try) -> tuple[float, float, float]:
    """What runs are sorted by; what is left out by rounding alone is nothing."""
    excess = one.excess if one.excess > NOT_OUT else 0.0
    return excess, one.unsure if one.unsure > NOT_OUT else 0.0, one.cost


def _dearer(known: Run | Try, other: Run | Try) -> bool:
    """Whether another run of the same places leaves less out, or moves less for as much."""
    if abs(known.excess - other.excess) > NOT_OUT:
        return other.excess < known.excess
    if abs(known.unsure - other.unsure) > NOT_OUT:
        return other.unsure < known.unsure
    return other.cost < known.cost * (1 - SAME)


def _well(value: Value, to_nominal: bool, size: int) -> Well:
    """Reach and limits of a value that moves in a row of a size, and what its movement costs."""
    adjuster = value.adjuster
    assert adjuster is not None, "only an adjuster moves a value"
    weight, start = weight_of(adjuster), value.start
    reach = reach_of(adjuster, start)
    pulls = []
    if to_nominal:
        if value.nominal is not None:
            pulls.append((value.nominal, value.nominal, weight))
        weight *= TIE_BREAKER
    elif size > 1 and value.nominal is not None:
        pulls.append((value.nominal, value.nominal, FAINT))
    pulls.append((start, start, weight))
    if value.action == MATCH_WEDGES:
        pulls.append((-math.inf, start, weight * THICKER))
    return _bounded(value.limits, reach, pulls)


def _link_well(link: Link, to_nominal: bool) -> Well:
    pulls = []
    if link.nominal is not None:
        pulls.append((link.nominal, link.nominal, NEAR_NOMINAL if to_nominal else FAINT))
    return _bounded(link.limits, (-math.inf, math.inf), pulls)


def _bounded(
    limits: Sequence[Limit], within: tuple[float, float], pulls: list[tuple[float, float, float]]
) -> Well:
    """No finding goes further out than it is, and one that is out is drawn inside."""
    lower, upper = within
    for _, low, high, is_broken, is_open, excess in limits:
        if low - excess > lower:
            lower = low - excess
        if high + excess < upper:
            upper = high + excess
        if is_open:
            pulls.append((low, high, PENALTY if is_broken else OPEN_PENALTY))
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


def _stepped(one: Try, effort: Effort) -> Run | None:
    rounded = in_steps(one.values, one.places, one.steps, one.exact, effort)
    if rounded is None:
        return None
    weighed = one[:3] if rounded is one.exact else _weighed(one.places, one.steps, rounded)
    return Run(*weighed, list(one.values), one.exact, list(rounded))


def _weighed(
    places: Sequence[Well], steps: Sequence[Well], values: Sequence[float]
) -> tuple[float, float, float]:
    """By how much values leave broken and undecided findings out, and the movement they cost."""
    given = price(places, steps, values)
    excess = math.fsum(distance for distance, weight in given if weight == PENALTY)
    unsure = math.fsum(distance for distance, weight in given if weight == OPEN_PENALTY)
    cost = math.fsum(distance * weight for distance, weight in given if weight not in NO_MOVEMENT)
    return excess, unsure, cost
