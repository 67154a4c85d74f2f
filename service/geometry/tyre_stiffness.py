"""Cornering stiffness of an axle from its load, for whoever has no measured value.

Only the ratios of the stiffnesses matter for the angles of straight running; side forces and drag
power scale with them, so they are as rough as the coefficient below.
"""

from collections.abc import Sequence
from math import degrees

POUND_FORCE = 4.4482216152605
"""Newtons in one pound-force, exact (NIST SP 811)."""

STANDARD_GRAVITY = 9.80665
"""Weight of one kilogram in newtons, by definition (NIST SP 811)."""

RADIAL_PER_DEGREE = 0.15
"""Side force as a share of the vertical load per degree of slip, radial tyres.

Gillespie, *Fundamentals of Vehicle Dynamics*: about 15 %, range 11 to 19 % (second hand: seen as
quoted by others). For heavy-truck radials at rated load 14 to 19 % when new (from memory).
"""

BIAS_PER_DEGREE = 0.12
"""The same for bias-ply tyres: about 12 %, range 8 to 18 % (Gillespie, second hand)."""

STEER_AXLE_LOAD = 12_000 * POUND_FORCE
"""Load of a steer axle when none is known, newtons: common practice, no source."""

SINGLE_AXLE_LOAD = 20_000 * POUND_FORCE
"""Load of a lone axle when none is known, newtons: the limit of 23 CFR 658.17 (from memory)."""

TANDEM_LOAD = 34_000 * POUND_FORCE
"""Load of two axles together when none is known, newtons: 23 CFR 658.17 (from memory)."""


def stiffness_of_load(load: float, per_degree: float = RADIAL_PER_DEGREE) -> float:
    """Cornering stiffness of a whole axle, newtons per radian, from its load in newtons.

    `per_degree` is the side force as a share of the load at one degree of slip. It takes the
    tyre as linear: good to some 3 or 4 degrees of slip (textbook rule, from memory).
    """
    return degrees(load * per_degree)


def usual_loads(steered: Sequence[bool]) -> list[float]:
    """Loads in newtons to weigh axles against each other when nobody gave any.

    One per axle, by whether it steers: 12 000 lbf for a steered axle, 17 000 lbf for each of
    several others (half a tandem), 20 000 lbf for a lone other. They are good for ratios and so
    for angles; forces that rest on them are worth nothing.
    """
    lone = sum(not s for s in steered) == 1
    other = SINGLE_AXLE_LOAD if lone else TANDEM_LOAD / 2
    return [STEER_AXLE_LOAD if s else other for s in steered]
