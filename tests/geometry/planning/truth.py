"""What is true of a simulated vehicle, in the names of an answer, by placing and reading it."""

import math
from dataclasses import replace
from itertools import pairwise

from geometry.planning.yard import Job
from simulator import Axle, Item, Vehicle, read

FACTORS = {"in": 0.0254, "mm": 0.001, "cm": 0.01, "deg": math.pi / 180}
"""Metres or radians of one unit of an answer."""


def si(value: float, unit: str) -> float:
    """A number of an answer in metres or radians."""
    return value * FACTORS[unit]


def truth(job: Job, vehicle: Vehicle) -> dict[tuple[str, int], float]:
    """Every quantity of every axle and pair that the vehicle has, whatever is read on it."""
    found: dict[tuple[str, int], float] = {}
    for axle in vehicle.axles:
        for name, value in _of_axle(job, vehicle, axle).items():
            found[name, axle.number] = value
    straight = [axle for axle in vehicle.axles if axle.role != "steer"]
    for front, rear in pairwise(straight):
        found["scrub", rear.number] = rear.thrust - front.thrust
        spread = _spread(job, "axle_span", (front.number, rear.number))
        if spread is not None:
            difference = math.sin(rear.thrust) - math.sin(front.thrust)
            found["span_difference", rear.number] = spread * difference
    return found


def _of_axle(job: Job, vehicle: Vehicle, axle: Axle) -> dict[str, float]:
    left, right = axle.left, axle.right
    found = {
        "offset": axle.offset,
        "offset_difference": 2 * axle.offset,
        "thrust": axle.thrust,
        "toe": axle.toe,
        "toe_left": axle.wheel_heading(-1),
        "toe_right": -axle.wheel_heading(1),
        "skew": axle.beam,
        "camber_left": left.camber,
        "camber_right": right.camber,
        "cross_camber": right.camber - left.camber,
        "caster_left": left.caster,
        "caster_right": right.caster,
        "cross_caster": right.caster - left.caster,
        "wedge_left": left.wedge,
        "wedge_right": right.wedge,
        "wedge_difference": right.wedge - left.wedge,
    }
    centred = _centred(vehicle, axle)
    if axle.distance > 0:
        found["thrust_difference"] = _apart(
            centred, {"kind": "sightline", "axle": axle.number, "reference": _scale(vehicle)}
        )
    for kind, name in (("setback_span", "setback"), ("kingpin_span", "kingpin_difference")):
        spread = _spread(job, kind, (axle.number,))
        if spread is not None:
            item = {"kind": kind, "axle": axle.number, "spread": spread}
            found[name] = _apart(centred, item)
    return found


def _scale(vehicle: Vehicle) -> int | None:
    return None if vehicle.towed else 1


def _centred(vehicle: Vehicle, axle: Axle) -> Vehicle:
    """The vehicle with this axle on the centreline and no toe, and its first one where it was."""
    axles = [replace(a, offset=0.0, toe=0.0) for a in vehicle.axles]
    if not vehicle.towed:
        # A thrust is stated over the whole distance from the reference point.
        axles[0] = replace(axles[0], distance=0.0)
    if axle.number == 1 and not vehicle.towed:
        axles[0] = replace(axles[0], distance=axle.distance)
    return replace(vehicle, axles=axles)


def _apart(vehicle: Vehicle, item: Item) -> float:
    reading = read(vehicle, item)
    return float(reading["right"] - reading["left"])


def _spread(job: Job, kind: str, axles: tuple[int, ...]) -> float | None:
    """Spread of the first item of a kind that spans these axles."""
    for item in job.items:
        spanned = (item.get("axle"), item.get("front_axle"), item.get("rear_axle"))
        if item["kind"] == kind and all(axle in spanned for axle in axles):
            return float(item["spread"])
    return None
