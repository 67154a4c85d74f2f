"""How fast a quantity of a vehicle drifts with distance, from its values visit after visit.

What the shop corrects is no drift. A visit therefore has a value on arrival and one on leaving,
and only what happened on the road between two visits counts: from the value on leaving one to
the value on arriving at the next.
"""

from collections.abc import Sequence
from itertools import pairwise
from math import sqrt
from typing import NamedTuple


class Stay(NamedTuple):
    """A visit as the road sees it: where the odometer stood, and a value with its standard
    uncertainty (k=1) on arrival and on leaving."""

    distance: float
    arrival: float
    arrival_uncertainty: float
    leaving: float
    leaving_uncertainty: float


class Drift(NamedTuple):
    """Change per unit of distance with its expanded uncertainty (k=2), from so many intervals."""

    rate: float
    expanded: float
    intervals: int


def drift(stays: Sequence[Stay]) -> Drift | None:
    """The weighted least-squares rate through the intervals between visits; None without one.

    An interval of length x and change y has the weight 1/(u1^2 + u2^2), which gives the rate
    sum(w x y)/sum(w x^2) and its variance 1/sum(w x^2). Where the intervals scatter by more than
    their uncertainties say, the uncertainty is widened by the Birge ratio
    sqrt(sum(w (y - rate x)^2)/(n - 1)), never narrowed. Intervals without distance say nothing.
    """
    parts = [_interval(one, other) for one, other in pairwise(stays)]
    parts = [part for part in parts if part[0] > 0]
    if not parts:
        return None
    information = sum(w * x * x for x, _, w in parts)
    rate = sum(w * x * y for x, y, w in parts) / information
    scatter = sum(w * (y - rate * x) ** 2 for x, y, w in parts)
    freedom = len(parts) - 1
    birge = sqrt(scatter / freedom) if freedom else 1.0
    return Drift(rate, 2.0 * max(1.0, birge) / sqrt(information), len(parts))


def _interval(one: Stay, other: Stay) -> tuple[float, float, float]:
    """Length, change and weight of the road from one visit to the next."""
    variance = one.leaving_uncertainty**2 + other.arrival_uncertainty**2
    return (
        other.distance - one.distance,
        other.arrival - one.leaving,
        1.0 / max(variance, 1e-24),
    )


def has_moved(one: Stay, other: Stay) -> bool:
    """Whether the change between two visits is beyond its expanded uncertainty (k=2)."""
    variance = one.leaving_uncertainty**2 + other.arrival_uncertainty**2
    return abs(other.arrival - one.leaving) > 2.0 * sqrt(variance)
