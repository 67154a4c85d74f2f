"""Moves values that stand next to each other, the ones around them staying, at the least cost."""

import math
from collections.abc import Iterator, Sequence
from itertools import product
from typing import NamedTuple

from service.geometry.planning.chain import Pull, Well, least_cost
from service.geometry.planning.effort import Effort
from service.geometry.planning.moving import increment_of, reach_of, weight_of
from service.geometry.planning.rows import MATCH_WEDGES, Limit, Link, Row, Value
from service.geometry.planning.steps import FAINT, NOT_OUT, OPEN_PENALTY, PENALTY, in_steps, weighed

NEAR_NOMINAL = 0.25
"""Weight of a difference's own nominal beside that of each value's own."""

TIE_BREAKER = 1e-3
"""Weight of movement where the nominal is what counts."""

THICKER = 1e-4
"""By what share a thicker wedge costs more than a thinner one. Of changes as large as each other
the one that leaves less wedge is made, on whichever side: so a mirrored vehicle gets the mirrored
plan."""

SAME = 1e-6
"""Two choices whose movement differs by no more than this share are equally good."""

MOST_MAKES = 64
"""So many combinations of the adjusters that neighbours have are tried; of more, the furthest
reaching adjuster of each."""

Ends = tuple[float, float]
ANYWHERE: Ends = (-math.inf, math.inf)


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
    for value in values:
        if value.adjuster is None:
            return None
    if not effort.spent():
        return None
    places = [
        _well(value, row, at, first, last, to_nominal) for at, value in enumerate(values, first)
    ]
    steps = [_link_well(link, to_nominal) for link in row.links[first : last - 1]]
    exact = least_cost(places, steps, [value.start for value in values])
    if exact is None:
        return None
    excess, unsure, cost, _ = weighed(places, steps, exact)
    return Try(excess, unsure, cost, values, places, steps, exact)


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
    if lowest < low or high < highest:
        return False
    # Turned about one end or the other, an axle's limits differ by thousandths.
    both = zip(one.limits, other.limits, strict=True)
    return all(own.lower <= its.lower and its.upper <= own.upper for own, its in both)


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


def _well(value: Value, row: Row, at: int, first: int, last: int, to_nominal: bool) -> Well:
    """Reach and limits of a value that moves with its run, and what its movement costs.

    The neighbours of a run stay where they are, and bind its ends.
    """
    adjuster = value.adjuster
    assert adjuster is not None, "only an adjuster moves a value"
    weight, start, size = weight_of(adjuster), value.start, len(row.places)
    pulls: list[Pull] = []
    if to_nominal:
        if value.nominal is not None:
            pulls.append((value.nominal, value.nominal, weight))
        weight *= TIE_BREAKER
    elif size > 1 and value.nominal is not None:
        pulls.append((value.nominal, value.nominal, FAINT))
    pulls.append((start, start, weight))
    if value.action == MATCH_WEDGES:
        pulls.append((-math.inf, start, weight * THICKER))
    within = _bounded(value.limits, reach_of(adjuster, start), pulls)
    if at == first > 0:
        link, ahead = row.links[at - 1], row.places[at - 1][0].start
        within = _tied(link, to_nominal, within, pulls, ahead, 1)
    if at + 1 == last < size:
        link, behind = row.links[at], row.places[at + 1][0].start
        within = _tied(link, to_nominal, within, pulls, behind, -1)
    return Well(*within, tuple(pulls))


def _link_well(link: Link, to_nominal: bool) -> Well:
    pulls: list[Pull] = []
    within = _tied(link, to_nominal, ANYWHERE, pulls, 0.0, 1)
    return Well(*within, tuple(pulls))


def _tied(
    link: Link, to_nominal: bool, within: Ends, pulls: list[Pull], other: float, sign: int
) -> Ends:
    """Within which ends a link holds a value to another that stays: see `_bounded`."""
    if link.nominal is not None:
        at = other + sign * link.nominal
        pulls.append((at, at, NEAR_NOMINAL if to_nominal else FAINT))
    return _bounded(link.limits, within, pulls, other, sign) if link.limits else within


def _bounded(
    limits: Sequence[Limit], within: Ends, pulls: list[Pull], other: float = 0.0, sign: int = 1
) -> Ends:
    """Ends that keep a value within limits; adds to `pulls` what draws it there.

    No finding goes further out than it is, and one that is out is drawn inside. The limits are
    those of the value less another (sign 1), or of the other less the value (-1).
    """
    lower, upper = within
    for _, least, most, is_broken, is_open, excess in limits:
        low, high = (other + least, other + most) if sign > 0 else (other - most, other - least)
        if low - excess > lower:
            lower = low - excess
        if high + excess < upper:
            upper = high + excess
        if is_open:
            pulls.append((low, high, PENALTY if is_broken else OPEN_PENALTY))
    return lower, upper


def _stepped(one: Try, effort: Effort) -> Run | None:
    excess, unsure, cost, values, places, steps, exact = one
    rounded = in_steps(values, places, steps, exact, effort)
    if rounded is None:
        return None
    if rounded is not exact:
        excess, unsure, cost, _ = weighed(places, steps, rounded)
    return Run(excess, unsure, cost, list(values), exact, list(rounded))
