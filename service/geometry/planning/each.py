"""The usual case in closed form: each value that is out goes to the nearest place inside."""

import math
from typing import NamedTuple

from service.geometry.planning.moving import amount_of, increment_of, moved_by, reach_of, weight_of
from service.geometry.planning.rows import Row, Value, bounds_ahead, bounds_behind, own_bounds
from service.geometry.planning.runs import NEAR_NOMINAL
from service.geometry.planning.steps import NOT_OUT

DECIDING = 4 * NEAR_NOMINAL
"""Weight from which a value's own nominal counts more than those of both its differences."""


class Moved(NamedTuple):
    """Values of a row after a plan: as computed, and as the adjusters allow."""

    exact: list[float]
    rounded: list[float]


def mended_each(row: Row, to_nominal: bool) -> Moved | None:
    """What is out moved to the nearest place inside, where that mends all there is.

    No choice is better. Nothing is left out; whatever moves fewer values leaves one out; and each
    goes no further than it must to be within all that binds it, or as near to its nominal as it
    can. Outside costs far more than any movement, and what differences should be far less, so that
    the chain finds the same. None where a value can be moved in several ways, or not enough, or
    where values that move must make room for each other.
    """
    out = _places_out(row)
    if not out:
        return None
    exact = [values[0].start for values in row.places]
    rounded = exact.copy()
    for place in out:
        found = _nearest(row, place, out, to_nominal)
        if found is None:
            return None
        exact[place], rounded[place] = found
    for place in out:
        if place + 1 in out and not (_fit(row, place, exact) and _fit(row, place, rounded)):
            return None
    return Moved(exact, rounded)


def _places_out(row: Row) -> list[int]:
    """The places that are out, none where more is out that hangs on none of them."""
    found: list[int] = []
    for place, values in enumerate(row.places):
        out = 0.0
        for limit in values[0].limits:
            if limit.broken:
                out += limit.excess
        if out:
            if out <= 2 * NOT_OUT:
                return []
            found.append(place)
    for number, link in enumerate(row.links):
        for limit in link.limits:
            if limit.broken and number not in found and number + 1 not in found:
                return []
    return found


def _nearest(row: Row, place: int, out: list[int], to_nominal: bool) -> tuple[float, float] | None:
    """Where the value at a place is inside all that binds it as its neighbours stay."""
    value = row.places[place][0]
    adjuster, start = value.adjuster, value.start
    if adjuster is None or len(row.places[place]) > 1:
        return None
    wish = value.nominal if to_nominal else None
    if to_nominal and row.links and (wish is None or weight_of(adjuster) < DECIDING):
        return None
    bounds = own_bounds(value.limits)
    if place > 0 and place - 1 not in out:
        bounds += bounds_ahead(row, place, row.places[place - 1][0].start)
    if place < len(row.links) and place + 1 not in out:
        bounds += bounds_behind(row, place, row.places[place + 1][0].start)
    lower, upper = reach_of(adjuster, start)
    for low, high, limit in bounds:
        # What is sure now and yet outside stays no further out than it is.
        kept = 0.0 if limit.open else limit.excess
        if low - kept > lower:
            lower = low - kept
        if high + kept < upper:
            upper = high + kept
    if lower > upper:
        return None
    exact = min(max(start if wish is None else wish, lower), upper)
    if increment_of(adjuster) is None:
        return exact, exact
    rounded = None if to_nominal else _first_step_inside(value, exact)
    return None if rounded is None or not lower <= rounded <= upper else (exact, rounded)


def _first_step_inside(value: Value, exact: float) -> float | None:
    """The step beyond where a value is just inside; None where the one before it is as good."""
    adjuster, start = value.adjuster, value.start
    assert adjuster is not None, "what has none was told apart"
    step = increment_of(adjuster) or 1.0
    count = amount_of(adjuster, start, exact) / step
    before, beyond = math.floor(abs(count)), math.ceil(abs(count))
    if abs(exact - moved_by(adjuster, start, math.copysign(before, count) * step)) <= 2 * NOT_OUT:
        return None
    return moved_by(adjuster, start, math.copysign(beyond, count) * step)


def _fit(row: Row, place: int, values: list[float]) -> bool:
    """Whether the difference of a value and the next one is within all that binds it."""
    apart = values[place + 1] - values[place]
    for limit in row.links[place].limits:
        kept = 0.0 if limit.open else limit.excess
        if not limit.lower - kept <= apart <= limit.upper + kept:
            return False
    return True
