"""A simulated vehicle and its readings written as the texts of a request."""

import math
from typing import Any

from simulator.readings import VALUES, Reading
from simulator.vehicle import Vehicle

METRES = {"mm": 0.001, "cm": 0.01, "in": 0.0254}
_ANGLE_KINDS = ("wheel_angle", "caster_sweep", "wedge")
_LENGTHS = ("spread", "baseline")


def length_text(metres: float, unit: str) -> str:
    """A length in plain decimals, to about a femtometre, with its unit."""
    return f"{metres / METRES[unit]:.13f} {unit}"


def angle_text(radians: float) -> str:
    """An angle in plain decimal degrees."""
    return f"{math.degrees(radians):.15f}"


def _vehicle(vehicle: Vehicle, unit: str) -> dict[str, Any]:
    axles = []
    for axle in vehicle.axles:
        row: dict[str, Any] = {
            "number": axle.number,
            "role": axle.role,
            "distance": length_text(axle.distance, unit),
        }
        for name in ("tyre_diameter", "width_over_tyres"):
            value = getattr(axle, name)
            if value is not None:
                row[name] = length_text(value, unit)
        axles.append(row)
    return {"unit": vehicle.unit, "axles": axles}


def _reading(reading: Reading, unit: str) -> dict[str, Any]:
    angles = reading["kind"] in _ANGLE_KINDS
    row: dict[str, Any] = {}
    for name, value in reading.items():
        if name in _LENGTHS:
            row[name] = length_text(value, unit)
        elif name == "turn":
            row[name] = angle_text(value)
        elif name in VALUES[reading["kind"]] or name == "uncertainty":
            row[name] = angle_text(value) if angles else length_text(value, unit)
        else:
            row[name] = value
    return row


def request(
    vehicle: Vehicle, readings: list[Reading], unit: str = "mm", **extra: Any
) -> dict[str, Any]:
    """Body of a solution request, every length written in `unit`; `extra` joins the top level."""
    body: dict[str, Any] = {
        "length_unit": unit,
        "vehicle": _vehicle(vehicle, unit),
        "readings": [_reading(reading, unit) for reading in readings],
    }
    return body | extra
