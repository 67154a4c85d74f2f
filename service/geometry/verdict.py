"""Conformance of an estimate with limits by probability (JCGM 106:2012, normal law)."""

from math import erf, erfc, sqrt
from typing import Literal

VerdictName = Literal["conforming", "nonconforming", "undetermined"]

GUARDED = "guarded"
SIMPLE = "simple"

CONFORMING_FROM = 0.95
NONCONFORMING_UPTO = 0.05

# A reading exactly at its limit lands a few units of rounding (about 1e-15 m) to either side of
# it, by the road its arithmetic took. One picometre, or picoradian, is far below any reading.
_ROUNDING = 1e-12
ROOT_HALF = sqrt(0.5)

SURE_FROM = 6.0
"""From here on erf is 1 to the last bit: its tail is 2e-17."""


def conformance_probability(
    value: float, standard_uncertainty: float, lower: float | None, upper: float | None
) -> float:
    """Probability that a quantity known as `value` with a normal law lies in `lower..upper`.

    All four are in one unit; a limit of None is open. The formulas are those of JCGM 106:2012
    clause 7 (clause number from memory). Each tail is taken by `erfc`, so that a probability of
    1e-300 keeps its digits; only an interval that is narrow beside the uncertainty *and* far out
    in a tail loses digits, as many as the two tail areas have in common. An uncertainty of 0
    gives the plain step, 1 within the limits inclusive and else 0.

    Raises ValueError for an uncertainty that is negative or not a number.
    """
    if not standard_uncertainty > 0.0:
        if standard_uncertainty == 0.0:
            return 1.0 if within(value, lower, upper) else 0.0
        raise ValueError(f"standard uncertainty {standard_uncertainty!r} is not 0 or above")
    if lower is None:
        if upper is None:
            return 1.0
        return 0.5 * erfc((value - upper) / standard_uncertainty * ROOT_HALF)
    below = (lower - value) / standard_uncertainty * ROOT_HALF
    if upper is None:
        return 0.5 * erfc(below)
    above = (upper - value) / standard_uncertainty * ROOT_HALF
    if below < -SURE_FROM and above > SURE_FROM:
        return 1.0
    if below > 0.0:
        return 0.5 * (erfc(below) - erfc(above))
    if above < 0.0:
        return 0.5 * (erfc(-above) - erfc(-below))
    return 0.5 * (erf(above) - erf(below))


def within(value: float, lower: float | None, upper: float | None) -> bool:
    """Whether the value itself lies in `lower..upper`, limits included (1e-12 of rounding free)."""
    return (lower is None or value >= lower - _ROUNDING) and (
        upper is None or value <= upper + _ROUNDING
    )


def verdict(
    probability: float, value: float, lower: float | None, upper: float | None, rule: str
) -> VerdictName:
    """The state that a decision rule gives an estimate.

    `guarded`: conforming from a probability of 0.95 and nonconforming up to 0.05, which are
    guarded acceptance and guarded rejection of JCGM 106:2012 clause 8.3 (clause number from
    memory), and undetermined between. `simple`: the value decides alone (clause 8.2, from
    memory). Raises ValueError for another rule.
    """
    if rule == GUARDED:
        if probability >= CONFORMING_FROM:
            return "conforming"
        return "nonconforming" if probability <= NONCONFORMING_UPTO else "undetermined"
    if rule == SIMPLE:
        return "conforming" if within(value, lower, upper) else "nonconforming"
    raise ValueError(f"decision rule {rule!r} is not known: write 'guarded' or 'simple'")
