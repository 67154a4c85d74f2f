"""Between which values an estimate is judged conforming, given its uncertainty.

The guard band of JCGM 106: the limits move inward until the probability of conformance is 0.95.
"""

import math
from math import erf
from typing import NamedTuple

from service.geometry.verdict import CONFORMING_FROM, GUARDED, ROOT_HALF, conformance_probability

GUARD = 1.6448536269514722
"""95 % point of the normal law: the guard of one limit in standard uncertainties."""

INWARD = 1e-9
"""Share of the uncertainty by which a result stays inside, so that rounding can't tip it out."""

APART = 12.0
"""Limits further apart than so many uncertainties are guarded each by itself."""


class Acceptance(NamedTuple):
    """Values judged conforming; `sure` is False where the uncertainty leaves none.

    Then `lower..upper` is the middle half of the limits: as far from both as the eye can ask, and
    a better reading must settle the rest.
    """

    lower: float
    upper: float
    sure: bool


def acceptance(lower: float | None, upper: float | None, u: float, rule: str) -> Acceptance:
    """Acceptance interval of a quantity of standard uncertainty `u` (its unit) between limits."""
    low = -math.inf if lower is None else lower
    high = math.inf if upper is None else upper
    if rule != GUARDED or u == 0:
        return Acceptance(low, high, True)
    if high - low > APART * u:
        guard = (GUARD + INWARD) * u
        return Acceptance(low + guard, high - guard, True)
    middle, width = (low + high) / 2, high - low
    if conformance_probability(middle, u, low, high) < CONFORMING_FROM:
        return Acceptance(middle - width / 4, middle + width / 4, False)
    reach = _reach(width / 2, u)
    return Acceptance(middle - reach, middle + reach, True)


def _reach(half: float, u: float) -> float:
    """How far from the middle the probability is still 0.95, by halving: it falls outward."""
    inside, outside, enough = 0.0, half, INWARD * u
    while outside - inside > enough:
        middle = (inside + outside) / 2
        # `conformance_probability` of what lies between its limits, without some 30 calls of it.
        below, above = (-half - middle) / u * ROOT_HALF, (half - middle) / u * ROOT_HALF
        if 0.5 * (erf(above) - erf(below)) >= CONFORMING_FROM:
            inside = middle
        else:
            outside = middle
    return inside
