"""The steps of solving a vehicle's readings, for a float, an array or a symbol in place of numbers.

All unknowns that readings connect are solved together (Gauss-Newton on the exact equations; one
step where they are straight lines), so that an axle off centre is not taken for one that aims
wrong.
"""

import math
from collections.abc import Sequence

from service.geometry.careful import SMALL_STEP, SolveError, solve_with_care
from service.geometry.normal import Group
from service.geometry.numbers import Functions, Number
from service.geometry.pattern import Pattern
from service.geometry.quantities import Quantity

MOST_STEPS = 12
"""Full steps before care is taken: readings that agree settle in three or four."""

NOTHING_DROPPED: frozenset[int] = frozenset()


def solve_group(
    group: Group,
    numbers: Sequence[Number],
    unknowns: list[Number],
    f: Functions,
    dropped: frozenset[int] = NOTHING_DROPPED,
) -> list[list[Number]]:
    """Solve the unknowns of one group in place and return the factored normal matrix.

    Curved equations need numbers to see when they are settled: floats, that is.
    """
    if group.size == 1 and group.linear and not dropped:
        return _solve_alone(group, numbers, unknowns, f)
    start = [unknowns[unknown] for unknown in group.order]
    for _ in range(MOST_STEPS):
        factor, step = step_of(group, numbers, unknowns, f, dropped)
        for place, unknown in enumerate(group.order):
            unknowns[unknown] = unknowns[unknown] + step[place]
        if group.linear or largest(step) < SMALL_STEP:
            return factor
    for place, unknown in enumerate(group.order):
        unknowns[unknown] = start[place]
    return solve_with_care(group, numbers, unknowns, dropped)


def step_of(
    group: Group,
    numbers: Sequence[Number],
    unknowns: Sequence[Number],
    f: Functions,
    dropped: frozenset[int] = NOTHING_DROPPED,
) -> tuple[list[list[Number]], list[Number]]:
    """Factored normal matrix at the present unknowns, and what to add to them."""
    factor, right = group.assemble(numbers, unknowns, f, dropped)
    group.factor(factor)
    return factor, group.solve(factor, right)


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


def largest(step: Sequence[float]) -> float:
    """The largest part of a step."""
    size = max(map(abs, step))
    # A comparison with NaN is false, which would loop to the end; say so at once.
    return size if size == size else math.inf


def told(
    pattern: Pattern,
    numbers: Sequence[Number],
    unknowns: Sequence[Number],
    factors: Sequence[list[list[Number]]],
    f: Functions,
) -> tuple[list[Number], list[Number]]:
    """Values and standard uncertainties of the quantities of a solved vehicle."""
    values: list[Number] = []
    uncertainties: list[Number] = []
    deviations = [
        f.sqrt(pattern.groups[group].variance(factors[group], ((place, 1.0),), columns))
        for group, place, columns in pattern.probes
    ]
    for quantity in pattern.quantities:
        value, derivatives = quantity.tell(numbers, unknowns, f)
        values.append(value)
        if quantity.probe is None:
            variance = quantity_variance(quantity, derivatives, pattern.groups, factors)
            uncertainties.append(f.sqrt(variance))
        else:
            uncertainties.append(abs(derivatives[quantity.term]) * deviations[quantity.probe])
    return values, uncertainties


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


def variance_of(
    pattern: Pattern,
    factors: Sequence[list[list[Number]]],
    gradient: Sequence[tuple[int, Number]],
) -> Number:
    """Variance of a combination of unknowns, given as (unknown, derivative); held ones add none."""
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
        total = total + group.variance(factors[number], terms, columns)
    return total


__all__ = [
    "SMALL_STEP",
    "SolveError",
    "largest",
    "quantity_variance",
    "solve_group",
    "step_of",
    "told",
    "variance_of",
]
