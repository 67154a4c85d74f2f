"""Vehicles of known faults: everything straight, then what a test puts out. All invented."""

import math
from dataclasses import replace
from typing import Any

from geometry.planning.yard import Adjuster, Job
from simulator import Axle, Item, Vehicle, Wheel

DEGREE = math.pi / 180
INCH = 0.0254


def tractor(*rear: str, steers: int = 1) -> Vehicle:
    """A tractor or truck with its rear axles by role, 1.3 m apart; `steers` axles in front."""
    axles = [Axle(n + 1, "steer", 2.0 * n, tyre_diameter=1.02) for n in range(steers)]
    start = axles[-1].distance + 4.5
    for place, role in enumerate(rear or ("drive", "drive")):
        axles.append(Axle(len(axles) + 1, role, start + 1.3 * place))
    return Vehicle("tractor", axles)


def towed(unit: str, count: int) -> Vehicle:
    """A trailer or dolly with its axles 1.25 m apart."""
    start = 11.0 if unit == "trailer" else 3.0
    return Vehicle(unit, [Axle(n + 1, unit, start + 1.25 * n) for n in range(count)])


def put_out(vehicle: Vehicle, number: int, **pose: Any) -> Vehicle:
    """The vehicle with one axle standing otherwise; angles in degrees, lengths in mm."""
    stand = {
        name: value * (1e-3 if name in ("offset", "distance") else DEGREE)
        for name, value in pose.items()
    }
    axles = [replace(a, **stand) if a.number == number else a for a in vehicle.axles]
    return replace(vehicle, axles=axles)


def with_wheels(vehicle: Vehicle, number: int, left: Wheel, right: Wheel) -> Vehicle:
    """The vehicle with other wheel ends on one axle."""
    axles = [replace(a, left=left, right=right) if a.number == number else a for a in vehicle.axles]
    return replace(vehicle, axles=axles)


def items_of(vehicle: Vehicle, *kinds: str) -> list[Item]:
    """The usual readings of every axle, or of the kinds named."""
    items: list[Item] = []
    for axle in vehicle.axles:
        number = axle.number
        items.append({"kind": "frame_gap", "axle": number})
        if vehicle.towed or number > 1:
            items.append({"kind": "sightline", "axle": number})
        if axle.role == "steer":
            items.append({"kind": "setback_span", "axle": number, "spread": 0.85})
            items.append({"kind": "toe_scale", "axle": number, "baseline": 1.02})
            items.append({"kind": "wedge", "axle": number})
            for side in ("left", "right"):
                shows = {"shows": ("camber", "caster")}
                items.append({"kind": "wheel_angle", "axle": number, "side": side} | shows)
        if vehicle.towed:
            items.append({"kind": "kingpin_span", "axle": number, "spread": 1.8})
        if number > 1 and axle.role != "steer" and vehicle.axle(number - 1).role != "steer":
            pair = {"front_axle": number - 1, "rear_axle": number, "spread": 1.8}
            items.append({"kind": "axle_span"} | pair)
    return [item for item in items if not kinds or item["kind"] in kinds]


def job_of(
    vehicle: Vehicle,
    rows: list[dict[str, Any]] | str,
    adjusters: dict[int, list[Adjuster]] | None = None,
    *kinds: str,
    **more: Any,
) -> Job:
    """A job with the usual readings."""
    return Job(vehicle, items_of(vehicle, *kinds), rows, adjusters or {}, **more)
