"""Gaussian reading noise of known size."""

import random

from simulator.readings import VALUES, Reading

SIGMA: dict[str, float] = {
    "sightline": 0.8e-3,
    "frame_gap": 0.8e-3,
    "setback_span": 0.5e-3,
    "axle_span": 0.5e-3,
    "kingpin_span": 0.8e-3,
    "toe_width": 0.3e-3,
    "toe_scale": 0.3e-3,
    "wheel_angle": 0.3e-3,
    "caster_sweep": 0.5e-3,
    "wedge": 1.0e-3,
}
"""Invented standard uncertainty of one side of a reading by kind, in metres or radians."""


def stated(reading: Reading, sigma: dict[str, float] = SIGMA) -> Reading:
    """The reading with the standard uncertainty of one side written on it."""
    return reading | {"uncertainty": sigma[reading["kind"]]}


def noisy(reading: Reading, dice: random.Random) -> Reading:
    """The reading with gaussian noise of its own stated uncertainty on every value."""
    shaken = dict(reading)
    sigma = reading["uncertainty"]
    for name in VALUES[reading["kind"]]:
        if name in reading:
            shaken[name] = reading[name] + dice.gauss(0.0, sigma)
    if reading["kind"] == "wedge":
        _point_thick_end(shaken)
    return shaken


def _point_thick_end(wedge: Reading) -> None:
    """Keep tapers positive: noise that carries one through zero turns its thick end."""
    turned = {"rear": "front", "front": "rear"}
    for name in ("left", "right"):
        if wedge[name] < 0:
            wedge[name] = -wedge[name]
            wedge[f"{name}_thick_end"] = turned[wedge[f"{name}_thick_end"]]
