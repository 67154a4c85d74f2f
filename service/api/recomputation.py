"""What today's engine makes of stored readings, told figure by figure."""

from collections.abc import Iterator
from typing import Any

from service.contract.estimates import Estimate
from service.contract.rounds import FigureChange
from service.contract.solution import Solution

TOLERANCE = 1e-9
"""Relative difference below which two figures are the same: what another processor may round."""

Figures = dict[tuple[int, int | None, str], float]


def changes(stored: Solution, today: Solution) -> list[FigureChange]:
    """Every figure that differs, or that only one of the two solutions has."""
    old, new = figures(stored), figures(today)
    return [
        FigureChange(
            axle=key[0],
            reference_axle=key[1],
            quantity=key[2],
            stored=old.get(key),
            today=new.get(key),
        )
        for key in sorted(old.keys() | new.keys(), key=str)
        if not _same(old.get(key), new.get(key))
    ]


def figures(solution: Solution) -> Figures:
    """Every estimate of a solution by axle, reference axle of a pair, and quantity."""
    found: Figures = {}
    for axle in solution.axles:
        found |= {(axle.number, None, name): value for name, value in _estimates(axle)}
    for pair in solution.pairs:
        found |= {(pair.rear, pair.front, name): value for name, value in _estimates(pair)}
    return found


def _estimates(part: Any) -> Iterator[tuple[str, float]]:
    for name in part.__struct_fields__:
        value = getattr(part, name)
        if isinstance(value, Estimate):
            yield name, value.value


def _same(one: float | None, other: float | None) -> bool:
    if one is None or other is None:
        return one is other
    return abs(one - other) <= TOLERANCE * max(1.0, abs(one), abs(other))
