"""Results that are possible but hardly true, so that a person looks again before acting."""

import math
from collections.abc import Sequence
from typing import NamedTuple

from service.geometry.readings import AxleSpan, KingpinSpan, Reading
from service.geometry.solve import Solved
from service.geometry.vehicle import Vehicle

MOST_THRUST = math.radians(3)
MOST_OFFSET = 4 * 0.0254
"""Beyond these a truck would hardly have driven in: 3 degrees, 4 in (metres)."""

SPAN_SLACK = 1 * 0.0254
"""A span may differ by 1 in from what the axle distances make it, in metres."""


class Doubt(NamedTuple):
    """An implausible result of an axle (`axle`), or a reading (`reading` index), and its size.

    `code` is "implausible-thrust" (radians), "implausible-offset" (metres) or
    "span-against-distance" (metres, read less expected).
    """

    code: str
    axle: int | None
    reading: int | None
    size: float


def doubts(vehicle: Vehicle, readings: Sequence[Reading], solved: Solved) -> list[Doubt]:
    """List what is implausible in one solved vehicle."""
    found = []
    for quantity, value in zip(solved.pattern.quantities, solved.values, strict=True):
        if quantity.name == "thrust" and abs(value) > MOST_THRUST:
            found.append(Doubt("implausible-thrust", quantity.axle, None, value))
        elif quantity.name == "offset" and abs(value) > MOST_OFFSET:
            found.append(Doubt("implausible-offset", quantity.axle, None, value))
    for place, reading in enumerate(readings):
        if isinstance(reading, AxleSpan | KingpinSpan):
            size = _span_excess(vehicle, reading)
            if abs(size) > SPAN_SLACK:
                found.append(Doubt("span-against-distance", None, place, size))
    return found


def _span_excess(vehicle: Vehicle, reading: AxleSpan | KingpinSpan) -> float:
    """Mean of the two sides less what the distances along the frame make it, metres."""
    distance = {axle.number: axle.distance for axle in vehicle.axles}
    mean = (reading.left + reading.right) / 2
    if isinstance(reading, AxleSpan):
        return mean - (distance[reading.rear] - distance[reading.front])
    return mean - math.hypot(distance[reading.axle], reading.spread / 2)
