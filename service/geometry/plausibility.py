"""Results that are possible but hardly true, so that a person looks again before acting."""

import math
from collections.abc import Callable, Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from service.geometry.pattern import Pattern
from service.geometry.readings import AxleSpan, KingpinSpan, Reading
from service.geometry.solve import Solved
from service.geometry.vehicle import Vehicle

MOST_THRUST = math.radians(3)
MOST_OFFSET = 4 * 0.0254
MOST_TOE = math.radians(2)
"""Beyond these a truck would hardly have driven in: 3 degrees, 4 in (metres), 2 degrees."""

SPAN_SLACK = 1 * 0.0254
"""A span may differ by 1 in from what the axle distances make it, in metres."""


class Doubt(NamedTuple):
    """An implausible result of an axle (`axle`), or a reading (`reading` index), and its size.

    `code` is "implausible-thrust" or "implausible-toe" (radians), "implausible-offset" (metres) or
    "span-against-distance" (metres, read less expected).
    """

    code: str
    axle: int | None
    reading: int | None
    size: float


def doubts(
    vehicle: Vehicle, readings: Callable[[], Sequence[Reading]], solved: Solved
) -> list[Doubt]:
    """List what is implausible in one solved vehicle; its readings are seldom asked for."""
    values, found = solved.values, []
    for place, most, code, axle in _looked_at(solved.pattern):
        if not -most <= values[place] <= most:
            found.append(Doubt(code, axle, None, values[place]))
    for place in _spans(solved.pattern):
        size = _span_excess(vehicle, readings()[place])
        if abs(size) > SPAN_SLACK:
            found.append(Doubt("span-against-distance", None, place, size))
    return found


def hard_to_believe(pattern: Pattern, values: NDArray[np.float64]) -> set[int]:
    """Places of vehicles of a stack that may have a doubt; `values` as a stack has them.

    Spans against distances are looked at one by one: all of a pattern that has some.
    """
    if _spans(pattern):
        return set(range(len(values)))
    beyond = np.zeros(len(values), dtype=bool)
    for place, most, _, _ in _looked_at(pattern):
        beyond |= ~(np.abs(values[:, place]) <= most)
    return set(np.flatnonzero(beyond).tolist())


def _spans(pattern: Pattern) -> list[int]:
    """Places of the readings that the axle distances foretell."""
    kept: list[int] | None = pattern.kept.get("spans")
    if kept is None:
        kept = pattern.kept["spans"] = [
            place
            for place, shape in enumerate(pattern.shape.readings)
            if shape[0] in ("axle_span", "kingpin_span")
        ]
    return kept


def _looked_at(pattern: Pattern) -> list[tuple[int, float, str, int]]:
    """Quantities that may be implausible: place, the most that is plausible, code, axle."""
    kept: list[tuple[int, float, str, int]] | None = pattern.kept.get("plausibility")
    if kept is None:
        most = {"thrust": MOST_THRUST, "offset": MOST_OFFSET, "toe": MOST_TOE}
        kept = pattern.kept["plausibility"] = [
            (place, most[quantity.name], f"implausible-{quantity.name}", quantity.axle)
            for place, quantity in enumerate(pattern.quantities)
            if quantity.name in most
        ]
    return kept


def _span_excess(vehicle: Vehicle, reading: Reading) -> float:
    """Mean of the two sides less what the distances along the frame make it, metres."""
    distance = {axle.number: axle.distance for axle in vehicle.axles}
    if isinstance(reading, AxleSpan):
        apart = distance[reading.rear] - distance[reading.front]
    elif isinstance(reading, KingpinSpan):
        apart = math.hypot(distance[reading.axle], reading.spread / 2)
    else:
        raise TypeError(f"{reading} is no span")
    return (reading.left + reading.right) / 2 - apart
