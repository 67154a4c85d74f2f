"""What a plan may move and what bounds it: values in a row, each with limits that findings set."""

from collections.abc import Sequence
from typing import NamedTuple

from service.geometry.planning.adjusters import Adjuster

CENTRE, AIM, SQUARE, MATCH_WEDGES, SET_TOE = "centre", "aim", "square", "match_wedges", "set_toe"
"""Actions of a plan, in the order the trade works."""


class Limit(NamedTuple):
    """Limits that one finding sets on a value or on a difference of two.

    `finding` is its place among the findings; within `lower..upper` it conforms. It is `broken`
    where it does not conform now, `open` where that is not sure or not so. `excess` says how far
    outside it lies now: no plan takes it further.
    """

    finding: int
    lower: float
    upper: float
    broken: bool
    open: bool
    excess: float


class Value(NamedTuple):
    """One value a plan may move: an offset (metres), or an aim, beam, toe or wedge (radians).

    `start` is where it stands, 0 of a wedge, whose change alone is planned.
    """

    action: str
    axle: int
    side: str | None
    unknowns: tuple[int, ...]
    start: float
    nominal: float | None
    limits: list[Limit]
    adjuster: Adjuster | None


class Link(NamedTuple):
    """Limits of a value less the one before it, and what that difference should be."""

    limits: list[Limit]
    nominal: float | None


class Row(NamedTuple):
    """Places in order, each with its value by every adjuster it has, and the links between."""

    places: list[list[Value]]
    links: list[Link]


UNLINKED = Link([], None)


Bound = tuple[float, float, Limit]
"""Ends between which a limit keeps a value, and the limit."""


def own_bounds(limits: Sequence[Limit]) -> list[Bound]:
    """What findings on a value itself allow it."""
    return [(limit.lower, limit.upper, limit) for limit in limits]


def bounds_ahead(row: Row, place: int, ahead: float) -> list[Bound]:
    """What findings on its difference to the value ahead, which is as stated, allow a value."""
    limits = row.links[place - 1].limits
    return [(ahead + limit.lower, ahead + limit.upper, limit) for limit in limits]


def bounds_behind(row: Row, place: int, behind: float) -> list[Bound]:
    """The same of the value behind it."""
    limits = row.links[place].limits
    return [(behind - limit.upper, behind - limit.lower, limit) for limit in limits]


def bounds_on(
    row: Row, place: int, limits: Sequence[Limit], values: Sequence[float]
) -> list[Bound]:
    """What binds the value at a place of a row: its own `limits`, and its neighbours' `values`."""
    found = own_bounds(limits)
    if place > 0:
        found += bounds_ahead(row, place, values[place - 1])
    if place < len(row.links):
        found += bounds_behind(row, place, values[place + 1])
    return found
