"""Solves a vehicle's geometry from its readings by weighted least squares.

The first vehicles of a pattern are solved step by step, the others by code compiled for it, and so
are those of a stack (`stack.py`); all three run the same formulas.
"""

import math
from collections.abc import Sequence
from typing import NamedTuple

from service.geometry.careful import SMALL_STEP, SolveError
from service.geometry.compiled import compiled
from service.geometry.course import Course, Run, apart, course_of, run
from service.geometry.least_squares import largest, solve_group, told
from service.geometry.normal import doubtful
from service.geometry.numbers import Number
from service.geometry.pattern import Pattern, pattern_of, split
from service.geometry.readings import Reading
from service.geometry.uncertainty import CENTRING, TAPE
from service.geometry.vehicle import Vehicle


class Factors(Sequence[list[list[float]]]):
    """The factored normal matrix of each group, worked out anew for whoever asks."""

    __slots__ = ("numbers", "pattern", "unknowns")

    def __init__(
        self, pattern: Pattern, numbers: Sequence[float], unknowns: Sequence[float]
    ) -> None:
        self.pattern = pattern
        self.numbers = numbers
        self.unknowns = unknowns

    def __len__(self) -> int:
        return len(self.pattern.groups)

    def __getitem__(self, number: int) -> list[list[float]]:  # type: ignore[override]
        group = self.pattern.groups[number]
        factor, _ = group.assemble(self.numbers, self.unknowns, math, frozenset())
        group.factor(factor)
        return factor


class Solved(NamedTuple):
    """Values and standard uncertainties of `pattern.quantities`, in their order, SI units.

    `unknowns` are the solved unknowns (0 for held ones), `factors` the factored normal matrix of
    each group. `run` says how the vehicle runs straight, None where it can't be told. Unless the
    readings are `doubtful` none of them contradicts the others.
    """

    pattern: Pattern
    numbers: Sequence[float]
    unknowns: list[float]
    factors: Sequence[list[list[float]]]
    values: list[float]
    uncertainties: list[float]
    run: Run | None
    doubtful: bool

    def get(self, name: str, axle: int) -> tuple[Number, Number] | None:
        """Value and standard uncertainty of a quantity of an axle, None where nothing tells it."""
        for quantity, value, u in zip(
            self.pattern.quantities, self.values, self.uncertainties, strict=True
        ):
            if quantity.name == name and quantity.axle == axle:
                return value, u
        return None


def solve(
    vehicle: Vehicle,
    readings: Sequence[Reading],
    *,
    centring_uncertainty: float = CENTRING,
    width_uncertainty: float = TAPE,
    frame_angle: float = 0.0,
) -> Solved:
    """Solve one vehicle.

    Parameters in metres: standard uncertainty of the assumption that an axle not taped sits
    centred, and of a taped width over tyres. `frame_angle`: slope of the frame while caster was
    read, radians, down at the rear positive. Raises SolveError if the readings fit no vehicle.
    """
    shape, numbers = split(vehicle, readings, centring_uncertainty, width_uncertainty, frame_angle)
    return solve_numbers(pattern_of(shape), numbers)


def solve_numbers(pattern: Pattern, numbers: Sequence[float]) -> Solved:
    """Solve one vehicle whose numbers are laid out as its pattern has them."""
    code = compiled(pattern)
    if code is None:
        return solve_step_by_step(pattern, numbers)
    try:
        settled = code.solve(numbers, math, largest)
    except ArithmeticError:
        return solve_step_by_step(pattern, numbers)
    last_steps, unknowns, values, uncertainties, checks, course = settled
    for last in last_steps:
        if not last < SMALL_STEP:
            return solve_step_by_step(pattern, numbers)
    return Solved(
        pattern,
        numbers,
        unknowns,
        Factors(pattern, numbers, unknowns),
        values,
        uncertainties,
        course if course is None else steady(course_of(pattern), course, numbers),
        bool(checks) and doubtful(checks),
    )


def solve_step_by_step(pattern: Pattern, numbers: Sequence[float]) -> Solved:
    """The same without compiled code, and with care where readings contradict each other."""
    unknowns: list[float] = [0.0] * pattern.unknowns
    factors = [solve_group(group, numbers, unknowns, math) for group in pattern.groups]
    values, uncertainties = told(pattern, numbers, unknowns, factors, math)
    course, found = course_of(pattern), None
    if course is not None:
        try:
            found = steady(course, run(pattern, course, numbers, unknowns, factors, math), numbers)
        except ArithmeticError:
            found = None
    return Solved(pattern, numbers, unknowns, factors, values, uncertainties, found, True)


def steady(course: Course | None, found: Run, numbers: Sequence[float]) -> Run | None:
    """How a vehicle runs, if its axles can hold it straight at all."""
    if course is None or not found.firmness > 1.0 or not apart(course, numbers):
        return None
    return found


__all__ = ["Factors", "SolveError", "Solved", "solve", "solve_numbers", "steady"]
