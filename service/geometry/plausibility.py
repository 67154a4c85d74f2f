"""Results that are possible but hardly true, so that a person looks again before acting."""

import math
from collections.abc import Iterator, Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from service.geometry.pattern import Pattern
from service.geometry.solve import Solved

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


def doubts(solved: Solved) -> list[Doubt]:
    """List what is implausible in one solved vehicle."""
    values, found = solved.values, []
    for place, most, code, axle in _looked_at(solved.pattern):
        if not -most <= values[place] <= most:
            found.append(Doubt(code, axle, None, values[place]))
    for place, span in _spans(solved.pattern):
        size = span.excess(solved.numbers)
        if abs(size) > SPAN_SLACK:
            found.append(Doubt("span-against-distance", None, place, size))
    return found


def hard_to_believe(
    pattern: Pattern, values: NDArray[np.float64], numbers: Sequence[Sequence[float]]
) -> set[int]:
    """Places of vehicles of a stack that may have a doubt; `values` as a stack has them."""
    beyond = np.zeros(len(values), dtype=bool)
    for place, most, _, _ in _looked_at(pattern):
        beyond |= ~(np.abs(values[:, place]) <= most)
    for _, span in _spans(pattern):
        sizes = np.array([span.excess(own) for own in numbers])
        beyond |= ~(np.abs(sizes) <= SPAN_SLACK)
    return set(np.flatnonzero(beyond).tolist())


class _Span(NamedTuple):
    """A span that the axle distances foretell: where it and they stand among the numbers.

    `ahead` is where the distance of its front axle stands, None for the pin.
    """

    start: int
    ahead: int | None
    behind: int

    def excess(self, numbers: Sequence[float]) -> float:
        """Mean of the two sides less what the distances along the frame make it, metres."""
        left, right, spread = numbers[self.start : self.start + 3]
        behind = numbers[self.behind]
        apart = (
            math.hypot(behind, spread / 2) if self.ahead is None else behind - numbers[self.ahead]
        )
        return (left + right) / 2 - apart


def _spans(pattern: Pattern) -> list[tuple[int, _Span]]:
    """The readings that the axle distances foretell, each with its place."""
    kept: list[tuple[int, _Span]] | None = pattern.kept.get("spans")
    if kept is None:
        kept = pattern.kept["spans"] = list(_made_spans(pattern))
    return kept


def _made_spans(pattern: Pattern) -> Iterator[tuple[int, _Span]]:
    distances = pattern.distance_of
    for place, ((kind, *axles), start) in enumerate(
        zip(pattern.shape.readings, pattern.starts, strict=True)
    ):
        if kind == "axle_span":
            yield place, _Span(start, distances[int(axles[0])], distances[int(axles[1])])
        elif kind == "kingpin_span":
            yield place, _Span(start, None, distances[int(axles[0])])


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
