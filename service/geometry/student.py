"""Student's t: how far to expand a standard uncertainty that rests on few repetitions."""

from functools import lru_cache
from math import atan, cos, exp, floor, lgamma, log1p, pi, sin, sqrt
from statistics import NormalDist

_SERIES_FROM = 200
_STEPS = 100


@lru_cache(maxsize=4096)
def coverage_factor(degrees_of_freedom: float, probability: float = 0.95) -> float:
    """The k with which k times a standard uncertainty covers `probability` (JCGM 100:2008, G.3).

    Two-sided. Degrees of freedom that are not whole are cut to the whole number below, as G.4.1
    allows. Good to 1e-10 for probabilities from 0.5 to 0.999. Raises ValueError below one degree of
    freedom or for a probability outside 0 to 1.
    """
    if not 0.0 < probability < 1.0:
        raise ValueError(f"a probability of {probability!r} is not between 0 and 1")
    if not degrees_of_freedom >= 1.0:
        raise ValueError(f"{degrees_of_freedom!r} degrees of freedom are fewer than one")
    freedom = floor(degrees_of_freedom)
    t = _series(freedom, probability)
    if freedom >= _SERIES_FROM:
        return t
    # The series falls short, and the probability is concave in t: Newton comes from below.
    for _ in range(_STEPS):
        step = (probability - probability_within(t, freedom)) / _density(t, freedom)
        t += step
        if abs(step) < 1e-13 * t:
            break
    return t


def probability_within(t: float, degrees_of_freedom: int) -> float:
    """Probability that Student's t lies within -t..t, t positive: the finite sums of Abramowitz
    and Stegun 26.7.3 (odd) and 26.7.4 (even), from memory and checked against scipy.
    """
    angle = atan(t / sqrt(degrees_of_freedom))
    odd = degrees_of_freedom % 2
    square = cos(angle) ** 2
    term = cos(angle) if odd else 1.0
    total = term if degrees_of_freedom > 1 else 0.0
    for i in range(2 + odd, degrees_of_freedom - 1, 2):
        term *= square * (i - 1) / i
        total += term
    total *= sin(angle)
    return 2 / pi * (angle + total) if odd else total


def _density(t: float, freedom: int) -> float:
    """Derivative of `probability_within` by t."""
    front = (
        lgamma((freedom + 1) / 2)
        - lgamma(freedom / 2)
        - log1p(t * t / freedom) * ((freedom + 1) / 2)
    )
    return 2 * exp(front) / sqrt(pi * freedom)


def _series(freedom: int, probability: float) -> float:
    """Expansion about the normal law, Abramowitz and Stegun 26.7.5 (from memory, checked)."""
    x = NormalDist().inv_cdf(0.5 + probability / 2)
    terms = (
        (x**3 + x) / 4,
        (5 * x**5 + 16 * x**3 + 3 * x) / 96,
        (3 * x**7 + 19 * x**5 + 17 * x**3 - 15 * x) / 384,
        (79 * x**9 + 776 * x**7 + 1482 * x**5 - 1920 * x**3 - 945 * x) / 92_160,
    )
    return x + sum([term / float(freedom) ** (i + 1) for i, term in enumerate(terms)])
