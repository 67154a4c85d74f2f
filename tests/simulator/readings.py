"""What a technician reads on a vehicle: exact numbers, from lines that meet and taut tapes.

An *item* says what is read and holds the constants that nobody knows (`standoff`, where the fixed
frame point lies). A *reading* is an item's outcome: the wire's `kind` and field names, with floats
in metres and radians.
"""

import math
from collections.abc import Callable, Iterable
from typing import Any

from simulator.plane import Point, along, distance, heading, meet, rail, transverse
from simulator.vehicle import Axle, Vehicle

Item = dict[str, Any]
Reading = dict[str, Any]

LEFT, RIGHT = -1, +1
SIDES = {"left": LEFT, "right": RIGHT}

VALUES: dict[str, tuple[str, ...]] = {
    "sightline": ("left", "right"),
    "frame_gap": ("left", "right"),
    "setback_span": ("left", "right"),
    "axle_span": ("left", "right"),
    "kingpin_span": ("left", "right"),
    "toe_width": ("front", "rear"),
    "toe_scale": ("toe",),
    "wheel_angle": ("toe", "camber", "caster"),
    "caster_sweep": ("camber_left_turn", "camber_right_turn"),
    "wedge": ("left", "right"),
}
"""Fields of each kind that are read, and so carry noise."""


def read(vehicle: Vehicle, item: Item) -> Reading:
    """The exact reading that an item gives on a vehicle."""
    return READERS[item["kind"]](vehicle, item)


def read_all(vehicle: Vehicle, items: Iterable[Item]) -> list[Reading]:
    """The exact readings of a list of items, in its order."""
    return [read(vehicle, item) for item in items]


def reference_axle(vehicle: Vehicle, item: Item) -> Axle | None:
    """Axle whose sidewall the scale is zeroed on; None is the kingpin or drawbar eye."""
    number = item.get("reference")
    if number is not None:
        return vehicle.axle(number)
    return None if vehicle.towed else vehicle.axle(1)


def _sightline(vehicle: Vehicle, item: Item) -> Reading:
    axle = vehicle.axle(item["axle"])
    reference = reference_axle(vehicle, item)
    if reference is None:
        scale, zero, half = transverse(0.0), 0.0, 0.0
    else:
        scale, zero = transverse(-reference.distance), reference.offset
        half = reference.width / 2

    def outboard(side: int) -> float:
        y = meet(axle.wheel_line(side), scale)[1]
        return side * (y - zero) - half + item.get("standoff", 0.0)

    reading = {"kind": "sightline", "axle": axle.number}
    if item.get("reference") is not None:
        reading["reference"] = item["reference"]
    return reading | {"left": outboard(LEFT), "right": outboard(RIGHT)}


def _frame_gap(vehicle: Vehicle, item: Item) -> Reading:
    axle = vehicle.axle(item["axle"])

    def gap(side: int) -> float:
        wall = axle.sidewall(side)
        foot = meet((wall, (0.0, 1.0)), rail(side * vehicle.frame_width / 2))
        return side * (wall[1] - foot[1])

    return {"kind": "frame_gap", "axle": axle.number, "left": gap(LEFT), "right": gap(RIGHT)}


def _setback_span(vehicle: Vehicle, item: Item) -> Reading:
    axle, spread = vehicle.axle(item["axle"]), item["spread"]
    pin = -axle.distance + item.get("pin_ahead", 0.6)

    def span(side: int) -> float:
        return pin - axle.beam_end(side, spread)[0]

    return {
        "kind": "setback_span",
        "axle": axle.number,
        "left": span(LEFT),
        "right": span(RIGHT),
        "spread": spread,
    }


def _axle_span(vehicle: Vehicle, item: Item) -> Reading:
    front, rear = vehicle.axle(item["front_axle"]), vehicle.axle(item["rear_axle"])
    spread = item["spread"]

    def span(side: int) -> float:
        return distance(front.beam_end(side, spread), rear.beam_end(side, spread))

    return {
        "kind": "axle_span",
        "front_axle": front.number,
        "rear_axle": rear.number,
        "left": span(LEFT),
        "right": span(RIGHT),
        "spread": spread,
    }


def _kingpin_span(vehicle: Vehicle, item: Item) -> Reading:
    axle, spread = vehicle.axle(item["axle"]), item["spread"]
    return {
        "kind": "kingpin_span",
        "axle": axle.number,
        "left": distance((0.0, 0.0), axle.beam_end(LEFT, spread)),
        "right": distance((0.0, 0.0), axle.beam_end(RIGHT, spread)),
        "spread": spread,
    }


def _baseline(axle: Axle, item: Item) -> tuple[float, Reading]:
    given = item.get("baseline")
    if given is not None:
        return given, {"baseline": given}
    assert axle.tyre_diameter is not None, "a toe in length needs a baseline or a tyre diameter"
    return axle.tyre_diameter, {}


def _toe_width(vehicle: Vehicle, item: Item) -> Reading:
    axle = vehicle.axle(item["axle"])
    baseline, given = _baseline(axle, item)
    track = item.get("track", axle.width - 0.3)

    def scribe(side: int, ahead: float) -> Point:
        plane = (along((0.0, 0.0), (0.0, 1.0), side * track / 2), heading(-side * axle.toe / 2))
        return meet(plane, transverse(ahead))

    def width(ahead: float) -> float:
        return distance(scribe(LEFT, ahead), scribe(RIGHT, ahead))

    return {
        "kind": "toe_width",
        "axle": axle.number,
        "front": width(baseline / 2),
        "rear": width(-baseline / 2),
    } | given


def _toe_scale(vehicle: Vehicle, item: Item) -> Reading:
    axle = vehicle.axle(item["axle"])
    baseline, given = _baseline(axle, item)
    return {
        "kind": "toe_scale",
        "axle": axle.number,
        "toe": baseline * math.tan(axle.toe),
    } | given


def _wheel_angle(vehicle: Vehicle, item: Item) -> Reading:
    axle, side = vehicle.axle(item["axle"]), SIDES[item["side"]]
    wheel = axle.left if side == LEFT else axle.right
    shown = {
        "toe": -side * axle.wheel_heading(side),
        "camber": wheel.camber,
        "caster": wheel.caster,
    }
    reading = {"kind": "wheel_angle", "axle": axle.number, "side": item["side"]}
    return reading | {name: shown[name] for name in item["shows"]}


def _caster_sweep(vehicle: Vehicle, item: Item) -> Reading:
    axle, side, turn = vehicle.axle(item["axle"]), SIDES[item["side"]], item["turn"]
    wheel = axle.left if side == LEFT else axle.right
    gain = -side * math.sin(turn) * wheel.caster
    return {
        "kind": "caster_sweep",
        "axle": axle.number,
        "side": item["side"],
        "turn": turn,
        "camber_left_turn": wheel.camber + gain,
        "camber_right_turn": wheel.camber - gain,
    }


def _wedge(vehicle: Vehicle, item: Item) -> Reading:
    axle = vehicle.axle(item["axle"])
    reading: Reading = {"kind": "wedge", "axle": axle.number}
    for name, wheel in (("left", axle.left), ("right", axle.right)):
        reading[name] = abs(wheel.wedge)
        reading[f"{name}_thick_end"] = "rear" if wheel.wedge >= 0 else "front"
    return reading


READERS: dict[str, Callable[[Vehicle, Item], Reading]] = {
    "sightline": _sightline,
    "frame_gap": _frame_gap,
    "setback_span": _setback_span,
    "axle_span": _axle_span,
    "kingpin_span": _kingpin_span,
    "toe_width": _toe_width,
    "toe_scale": _toe_scale,
    "wheel_angle": _wheel_angle,
    "caster_sweep": _caster_sweep,
    "wedge": _wedge,
}

_OTHER = {"left": "right", "right": "left"}


def mirror_reading(reading: Reading) -> Reading:
    """The reading that the mirrored vehicle gives."""
    kind = reading["kind"]
    if kind in ("toe_width", "toe_scale"):
        return dict(reading)
    mirrored = dict(reading)
    if kind in ("wheel_angle", "caster_sweep"):
        mirrored["side"] = _OTHER[reading["side"]]
    if kind == "caster_sweep":
        mirrored["camber_left_turn"] = reading["camber_right_turn"]
        mirrored["camber_right_turn"] = reading["camber_left_turn"]
    if "left" in reading:
        mirrored["left"], mirrored["right"] = reading["right"], reading["left"]
    if kind == "wedge":
        mirrored["left_thick_end"] = reading["right_thick_end"]
        mirrored["right_thick_end"] = reading["left_thick_end"]
    return mirrored
