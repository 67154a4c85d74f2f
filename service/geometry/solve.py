"""Solves a vehicle's geometry from its readings by weighted least squares.

All unknowns that readings connect are solved together (Gauss-Newton on the exact equations; one
step where they are straight lines), so that an axle off centre is not taken for one that aims
wrong. One vehicle is solved with floats, many of one pattern with arrays, by the same code.
"""

import math
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from service.geometry.careful import SMALL_STEP, SolveError, solve_with_care
from service.geometry.normal import Group
from service.geometry.numbers import Functions, Number
from service.geometry.pattern import Pattern, pattern_of, split
from service.geometry.quantities import Quantity
from service.geometry.readings import Reading
from service.geometry.uncertainty import CENTRING, TAPE
from service.geometry.vehicle import Vehicle

MOST_STEPS = 12
"""Full steps before care is taken: readings that agree settle in three or four."""


NOTHING_DROPPED: frozenset[int] = frozenset()


class Solved(NamedTuple):
    """Values and standard uncertainties of `pattern.quantities`, in their order, SI units.

    `unknowns` are the solved unknowns (0 for held ones), `factors` the factored normal matrix of
    each group. Numbers are floats, or arrays of shape (vehicles,).
    """

    pattern: Pattern
    numbers: Sequence[Number]
    unknowns: list[Number]
    factors: list[list[list[Number]]]
    values: list[Number]
    uncertainties: list[Number]

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


def solve_numbers(pattern: Pattern, numbers: Sequence[Number], f: Functions = math) -> Solved:
    """Solve one vehicle (`f` is math) or a stack of them (numpy, numbers as arrays)."""
    unknowns: list[Number] = [0.0] * pattern.unknowns
    factors = [solve_group(group, numbers, unknowns, f) for group in pattern.groups]
    values, uncertainties = [], []
    variances = [
        pattern.groups[g].variance(factors[g], ((p, 1.0),), c) for g, p, c in pattern.probes
    ]
    sqrt = f.sqrt
    for quantity in pattern.quantities:
        value, derivatives = quantity.tell(numbers, unknowns, f)
        values.append(value)
        if quantity.probe is None:
            variance = quantity_variance(quantity, derivatives, pattern.groups, factors)
            uncertainties.append(sqrt(variance))
        else:
            slope = derivatives[quantity.term]
            uncertainties.append(abs(slope) * sqrt(variances[quantity.probe]))
    return Solved(pattern, numbers, unknowns, factors, values, uncertainties)


def solve_group(
    group: Group,
    numbers: Sequence[Number],
    unknowns: list[Number],
    f: Functions,
    dropped: frozenset[int] = NOTHING_DROPPED,
) -> list[list[Number]]:
    """Solve the unknowns of one group in place and return the factored normal matrix."""
    if group.size == 1 and group.linear and not dropped:
        return _solve_alone(group, numbers, unknowns, f)
    start = [unknowns[unknown] for unknown in group.order]
    for _ in range(MOST_STEPS):
        factor, right = group.assemble(numbers, unknowns, f, dropped)
        group.factor(factor)
        step = group.solve(factor, right)
        for place, unknown in enumerate(group.order):
            unknowns[unknown] = unknowns[unknown] + step[place]
        if group.linear or _largest(step, f) < SMALL_STEP:
            return factor
    if f is not math:
        raise SolveError("some vehicle of the stack does not settle; solve them one by one")
    for place, unknown in enumerate(group.order):
        unknowns[unknown] = start[place]
    return solve_with_care(group, numbers, unknowns, dropped)


def _solve_alone(
    group: Group, numbers: Sequence[Number], unknowns: list[Number], f: Functions
) -> list[list[Number]]:
    """One unknown read directly, once or more: the weighted mean."""
    total: Number = 0.0
    weights: Number = 0.0
    for row in group.rows:
        rest, (slope, *_), variance = row.equation(numbers, unknowns, f)
        weight = slope / variance
        total = total + weight * rest
        weights = weights + weight * slope
    unknowns[group.order[0]] = total / weights
    return [[weights]]


def _largest(step: Sequence[Number], f: Functions) -> float:
    if f is math:
        largest = max(map(abs, step))
        # A comparison with NaN is false, which would loop to the end; say so at once.
        return largest if largest == largest else math.inf
    return float(max(np.max(np.abs(part)) for part in step))


def quantity_variance(
    quantity: Quantity,
    derivatives: Sequence[Number],
    groups: Sequence[Group],
    factors: Sequence[list[list[Number]]],
) -> Number:
    """Variance of a quantity from those of its unknowns, with their correlations."""
    total: Number = 0.0
    for part in quantity.parts:
        gradient = [(place, derivatives[term]) for term, place in part.places]
        total = total + groups[part.group].variance(factors[part.group], gradient, part.columns)
    return total


def variance_of(solved: Solved, gradient: Sequence[tuple[int, Number]]) -> Number:
    """Variance of a combination of unknowns, given as (unknown, derivative); held ones add none."""
    pattern = solved.pattern
    by_group: dict[int, list[tuple[int, Number]]] = {}
    for unknown, derivative in gradient:
        number = pattern.group_of.get(unknown)
        if number is not None:
            place = pattern.groups[number].place[unknown]
            by_group.setdefault(number, []).append((place, derivative))
    total: Number = 0.0
    for number, terms in by_group.items():
        group = pattern.groups[number]
        columns = group.reached_columns(place for place, _ in terms)
        total = total + group.variance(solved.factors[number], terms, columns)
    return total
