"""Simulated vehicles: axles at known poses and the exact readings that a technician would take.

Derived from plane geometry alone and independent of the solver, whose judge it is. Metres and
radians; x forward, y right, headings clockwise positive.
"""

from simulator.fleet import (
    Case,
    aim_items,
    case_of,
    fleet,
    random_case,
    random_items,
    random_vehicle,
    seeded,
    settled,
    stood_anew,
    usual_case,
    usual_items,
    wheel_items,
)
from simulator.noise import SIGMA, noisy, stated
from simulator.rank import MEASURED, PARTLY_ASSUMED, Reach, jacobian, reach, unknowns
from simulator.readings import Item, Reading, mirror_reading, read, read_all
from simulator.vehicle import Axle, Vehicle, Wheel, mirror_vehicle
from simulator.wire import angle_text, length_text, request

__all__ = [
    "FLIPPED",
    "MEASURED",
    "PARTLY_ASSUMED",
    "SIGMA",
    "Axle",
    "Case",
    "Item",
    "Reach",
    "Reading",
    "Vehicle",
    "Wheel",
    "aim_items",
    "angle_text",
    "case_of",
    "fleet",
    "jacobian",
    "length_text",
    "mirror",
    "mirror_reading",
    "mirror_vehicle",
    "noisy",
    "random_case",
    "random_items",
    "random_vehicle",
    "reach",
    "read",
    "read_all",
    "request",
    "seeded",
    "settled",
    "stated",
    "stood_anew",
    "unknowns",
    "usual_case",
    "usual_items",
    "wheel_items",
]


FLIPPED = frozenset(
    {
        "offset",
        "offset_difference",
        "thrust",
        "thrust_difference",
        "setback",
        "skew",
        "kingpin_difference",
        "scrub",
        "span_difference",
        "cross_camber",
        "cross_caster",
        "wedge_difference",
    }
)
"""Quantities that change their sign in the mirror; those of one wheel change the side instead."""


def mirror(thing: Vehicle | list[Reading]) -> Vehicle | list[Reading]:
    """A vehicle, or a list of readings, as seen in a mirror on the centreline."""
    if isinstance(thing, Vehicle):
        return mirror_vehicle(thing)
    return [mirror_reading(reading) for reading in thing]
