"""What a plan may move and what bounds it: values in a row, each with limits that findings set."""

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
