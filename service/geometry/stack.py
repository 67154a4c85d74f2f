"""Solves vehicles of one pattern together, as stacked arrays, by the same code as one by one."""

from collections.abc import Iterator, Sequence
from typing import Any

import numpy as np

from service.geometry.pattern import Pattern
from service.geometry.solve import Solved, solve_numbers


class Factors:
    """The factored matrices of one vehicle of a stack, taken out of the arrays when asked for."""

    __slots__ = ("place", "stacked")

    def __init__(self, stacked: list[list[list[Any]]], place: int) -> None:
        self.stacked = stacked
        self.place = place

    def __getitem__(self, group: int) -> list[list[float]]:
        place = self.place
        return [
            [float(entry[place]) if isinstance(entry, np.ndarray) else entry for entry in row]
            for row in self.stacked[group]
        ]


def solve_stack(pattern: Pattern, numbers: Sequence[Sequence[float]]) -> Iterator[Solved]:
    """Solve vehicles whose numbers fit one pattern, in their order.

    Raises SolveError where one of them does not settle like the rest: solve them one by one then.
    """
    columns = list(np.array(numbers).T.copy())
    with np.errstate(all="ignore"):
        stacked = solve_numbers(pattern, columns, np)
    count = len(numbers)
    unknowns = _by_vehicle(stacked.unknowns, count)
    values = _by_vehicle(stacked.values, count)
    uncertainties = _by_vehicle(stacked.uncertainties, count)
    for place in range(count):
        factors: Any = Factors(stacked.factors, place)
        yield Solved(
            pattern, numbers[place], unknowns[place], factors, values[place], uncertainties[place]
        )


def _by_vehicle(columns: Sequence[Any], count: int) -> list[list[float]]:
    """Arrays of one number for all vehicles to lists of all numbers for one vehicle."""
    if not columns:
        return [[] for _ in range(count)]
    table = np.empty((count, len(columns)))
    for place, column in enumerate(columns):
        table[:, place] = column
    rows: list[list[float]] = table.tolist()
    return rows
