"""Least cost of a row of values against scipy.optimize.linprog (HiGHS) on random rows.

The program is written down in full: one variable a value, one slack for every pull.
"""

import math
import random
from itertools import pairwise

import pytest
from scipy.optimize import OptimizeResult, linprog

from service.geometry.planning.chain import Pull, Well, least_cost, price

INFEASIBLE = 2


def random_well(dice: random.Random, spread: float) -> Well:
    """Limits and pulls of every shape: open on either side, a single point, or none at all."""
    centre = dice.gauss(0, spread)
    lower = centre - dice.random() if dice.random() < 0.5 else -math.inf
    upper = centre + dice.random() if dice.random() < 0.5 else math.inf
    if dice.random() < 0.1:
        lower = upper = centre
    pulls = tuple(_pull(dice) for _ in range(dice.choice((0, 1, 1, 2, 3))))
    return Well(lower, upper, pulls)


def _pull(dice: random.Random) -> Pull:
    low = dice.gauss(0, 1)
    high = low if dice.random() < 0.5 else low + dice.random()
    open_side = dice.random()
    if open_side < 0.15:
        low = -math.inf
    elif open_side < 0.3:
        high = math.inf
    return low, high, dice.choice((1.0, 1.0, 2.0, 0.5, 1.8161, 1e3))


def by_linprog(places: list[Well], steps: list[Well]) -> OptimizeResult:
    """The same row as a linear program."""
    size = len(places)
    columns = size + sum(len(well.pulls) for well in (*places, *steps))
    matrix: list[list[float]] = []
    right: list[float] = []
    costs = [0.0] * columns

    def below(terms: dict[int, float], limit: float, slack: int | None = None) -> None:
        if math.isfinite(limit):
            line = [0.0] * columns
            for column, factor in terms.items():
                line[column] = factor
            if slack is not None:
                line[slack] = -1.0
            matrix.append(line)
            right.append(limit)

    slack = size
    for number, well in enumerate((*places, *steps)):
        at = number - size
        value = {number: 1.0} if at < 0 else {at + 1: 1.0, at: -1.0}
        negative = {column: -factor for column, factor in value.items()}
        below(value, well.upper)
        below(negative, -well.lower)
        for low, high, weight in well.pulls:
            costs[slack] = weight
            below(value, high, slack)
            below(negative, -low, slack)
            slack += 1
    bounds = [(None, None)] * size + [(0, None)] * (columns - size)
    return linprog(costs, A_ub=matrix or None, b_ub=right or None, bounds=bounds)


@pytest.mark.parametrize("rows", [500, pytest.param(20_000, marks=pytest.mark.long)])
def test_the_least_cost_is_that_of_the_linear_program(rows: int) -> None:
    dice, solvable = random.Random(rows), 0
    for _ in range(rows):
        size = dice.randint(1, 5)
        places = [random_well(dice, 1.0) for _ in range(size)]
        steps = [random_well(dice, 0.3) for _ in range(size - 1)]
        near = [dice.gauss(0, 1) for _ in places]
        values, program = least_cost(places, steps, near), by_linprog(places, steps)
        assert (values is None) == (program.status == INFEASIBLE)
        if values is not None:
            cost = sum(distance * weight for distance, weight in price(places, steps, values))
            assert cost == pytest.approx(program.fun, rel=1e-9, abs=1e-8)
            solvable += 1
    assert rows / 3 < solvable < rows * 0.95


def test_a_cost_that_rises_from_the_end_of_a_reach_is_least_there() -> None:
    """A value at the end of its reach, its neighbour a fixed step away and free by itself."""
    places = [Well(0.75, pulls=((0.5, 0.5, 1.0),)), Well()]
    assert least_cost(places, [Well(-0.25, -0.25)], [0.0, 2.0]) == [0.75, 0.5]
    heavier = [Well(0.75, pulls=((0.5, 0.5, 1.0),)), Well(pulls=((2.0, 2.0, 0.5),))]
    assert least_cost(heavier, [Well(-0.25, -0.25)], [0.0, 2.0]) == [0.75, 0.5]


def test_the_values_keep_every_limit() -> None:
    dice, seen, rows = random.Random(8), 0, 1500
    for _ in range(rows):
        size = dice.randint(1, 6)
        places = [random_well(dice, 1.0) for _ in range(size)]
        steps = [random_well(dice, 0.3) for _ in range(size - 1)]
        values = least_cost(places, steps, [dice.gauss(0, 1) for _ in places])
        if values is not None:
            differences = [b - a for a, b in pairwise(values)]
            for well, value in zip((*places, *steps), (*values, *differences), strict=True):
                assert well.lower - 1e-12 <= value <= well.upper + 1e-12
            seen += 1
    assert seen > rows / 3


def test_of_equally_good_values_the_last_stay_nearest() -> None:
    """Two values that must part by 1, either of which may give way: the front one does."""
    places = [Well(pulls=((0.0, 0.0, 1.0),)), Well(pulls=((0.0, 0.0, 1.0),))]
    for apart in (1.0, -1.0):
        steps = [Well(min(apart, 9 * apart), max(apart, 9 * apart))]
        assert least_cost(places, steps, [0.0, 0.0]) == [-apart, 0.0]
