"""The usual case in closed form: one value alone is out, and moving that by itself mends it all."""

from service.geometry.planning.moving import increment_of, reach_of
from service.geometry.planning.rows import Row, bounds_on
from service.geometry.planning.steps import NOT_OUT


def mended_alone(row: Row, to_nominal: bool) -> tuple[int, float] | None:
    """Place and new value of the one value that is out, where to move it alone mends all there is.

    No way leaves less out, and where that value stays more is left out, so none moves fewer. It
    goes as far as it must to be within all limits that bind it: outside costs far more than any
    movement, and to be nearer to nominal far less, so what the chain finds is the same. None where
    more is out, where that value can be moved in several ways, in steps or not enough, and where
    nominal values of neighbours pull at each other.
    """
    place = _only_one_out(row)
    if place is None or len(row.places[place]) > 1 or (to_nominal and row.links):
        return None
    value = row.places[place][0]
    if value.adjuster is None or increment_of(value.adjuster) is not None:
        return None
    start, (lower, upper) = value.start, reach_of(value.adjuster, value.start)
    for low, high, limit in bounds_on(row, place, value.limits, [v[0].start for v in row.places]):
        # What is sure now and yet outside stays no further out than it is.
        kept = 0.0 if limit.open else limit.excess
        lower, upper = max(lower, low - kept), min(upper, high + kept)
    if lower > upper:
        return None
    aim = value.nominal if to_nominal and value.nominal is not None else start
    return place, min(max(aim, lower), upper)


def _only_one_out(row: Row) -> int | None:
    """The place that alone is out, and no difference but its own with it."""
    found, out = None, 0.0
    for place, values in enumerate(row.places):
        for limit in values[0].limits:
            if limit.broken:
                if found not in (None, place):
                    return None
                found, out = place, out + limit.excess
    if found is None or out <= 2 * NOT_OUT:
        return None
    for number, link in enumerate(row.links):
        if number not in (found - 1, found) and any(limit.broken for limit in link.limits):
            return None
    return found
