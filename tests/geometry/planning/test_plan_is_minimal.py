"""Aims of two to four axles against brute force: every position of a fine grid is looked at.

The limits are found with scipy, the positions by plain enumeration; only the rules of what counts
(moves first, then movement at the adjusters) are shared with the planner.
"""

import math
from dataclasses import dataclass

import numpy as np
import pytest
from geometry.planning.technician import AXLE_ENDS
from geometry.planning.yard import (
    BOTH,
    LEFT_END,
    LONGITUDINAL,
    RIGHT_END,
    Adjuster,
    Job,
    row,
    solution,
)
from numpy.typing import NDArray
from scipy.optimize import brentq
from scipy.stats import norm
from simulator import Axle, Vehicle, seeded
from simulator.fleet import Dice, chance

from service.contract.solution import Finding, Solution
from service.geometry.planning.limits import INSIDE, ROUNDING

DEGREE = math.pi / 180
GRID = {2: 241, 3: 49, 4: 19}
"""Positions of each stepless axle, by how many axles there are."""
FINEST = {2: 0.3e-3, 3: 0.8e-3, 4: 2e-3}
"""Smallest step in metres that leaves a grid of all positions small enough to look through."""

REACH = 0.6 * DEGREE


@dataclass(slots=True)
class Bound:
    """Where a finding counts as met, radians, and whether it is out as the vehicle stands."""

    lower: float
    upper: float
    broken: bool

    def holds(self, values: NDArray[np.float64]) -> NDArray[np.bool_]:
        return (values >= self.lower - 1e-12) & (values <= self.upper + 1e-12)


def bound_of(finding: Finding, rule: str) -> Bound:
    """The interval of probability 0.95 by scipy, less the hair that the planner keeps inside."""
    assert finding.lower is not None
    assert finding.upper is not None
    low, high = finding.lower * DEGREE, finding.upper * DEGREE
    u = finding.estimate.uncertainty / 2 * DEGREE
    broken = finding.verdict.value == "nonconforming"
    if rule == "simple":
        return Bound(low + ROUNDING, high - ROUNDING, broken)
    middle = (low + high) / 2

    def short(value: float) -> float:
        return float(norm.cdf((high - value) / u) - norm.cdf((low - value) / u) - 0.95)

    assert short(middle) > 0, "these targets are wide enough to be sure of"
    reach = brentq(short, middle, high + 5 * u, xtol=1e-15) - middle
    hair = INSIDE * u + ROUNDING
    return Bound(middle - reach + hair, middle + reach - hair, broken)


def random_aims(dice: Dice, count: int, *, stepped: bool = False) -> Job:
    """Axles that don't steer, aimed at random, under thrust and scrub limits.

    `stepped`: every axle that can be moved at all is moved in steps.
    """
    towed = chance(dice, 50)
    axles = [] if towed else [Axle(1, "steer", 0.0)]
    role = "trailer" if towed else "drive"
    for place in range(count):
        thrust = dice.uniform(-0.45, 0.45) * DEGREE
        distance = 5.0 + 1.3 * place
        axles.append(Axle(len(axles) + 1, role, distance, dice.uniform(-5e-3, 5e-3), thrust))
    vehicle = Vehicle("trailer" if towed else "tractor", axles)
    straight = [a.number for a in axles if a.role != "steer"]
    items = [{"kind": "sightline", "axle": number} for number in straight]
    items += [{"kind": "frame_gap", "axle": axle.number} for axle in axles]
    rows = [
        row("thrust", dice.uniform(0.08, 0.3), roles=[role]),
        row("scrub", dice.uniform(0.08, 0.3), dice.choice((0.0, 0.0, 0.05)), roles=[role]),
    ]
    steps = (FINEST[count], 4e-3) if stepped else (0.5e-3, 3e-3)
    adjusters = {
        number: _adjusters(dice, steps, 100 if stepped else 50)
        for number in straight
        if stepped or chance(dice, 80)
    }
    rule = dice.choice(("guarded", "simple"))
    return Job(vehicle, items, rows, adjusters, rule=rule)


def _adjusters(dice: Dice, steps: tuple[float, float], percent: int) -> list[Adjuster]:
    """None at all now and then, or two, of which either may serve."""
    if chance(dice, 10):
        return []
    return [_adjuster(dice, steps, percent) for _ in range(dice.choice((1, 1, 2)))]


def _adjuster(dice: Dice, steps: tuple[float, float], percent: int) -> Adjuster:
    ends = dice.choice((BOTH, LEFT_END, RIGHT_END))
    increment = dice.uniform(*steps) if chance(dice, percent) else None
    travel = dice.uniform(2e-3, 12e-3) if chance(dice, 25) else None
    return Adjuster(LONGITUDINAL, ends, dice.uniform(0.9, 1.9), increment, travel)


@dataclass(slots=True)
class Places:
    """Positions of an axle, and what moving there costs; of all of them the first is staying."""

    aims: NDArray[np.float64]
    cost: NDArray[np.float64]

    @property
    def moved(self) -> NDArray[np.int64]:
        return (np.arange(len(self.aims)) > 0).astype(np.int64)


def places_of(job: Job, axle: Axle, count: int) -> Places:
    """Where an axle can be brought by any of its adjusters, and at what movement of its ends."""
    told = job.adjusters.get(axle.number, [Adjuster(LONGITUDINAL, spread=AXLE_ENDS)])
    reached = [_reached(adjuster, axle.thrust, count) for adjuster in told]
    return Places(
        np.concatenate([[axle.thrust], *(places.aims for places in reached)]),
        np.concatenate([[0.0], *(places.cost for places in reached)]),
    )


def _reached(adjuster: Adjuster, thrust: float, count: int) -> Places:
    """Steps of an adjuster, or a grid, as far as it goes."""
    assert adjuster.spread is not None
    ends = 2 if adjuster.ends == BOTH else 1
    limit = math.inf if adjuster.travel is None else adjuster.travel * (1 + 1e-12)
    if adjuster.increment is None:
        aims = np.linspace(-REACH, REACH, GRID[count])
        amounts = (np.sin(aims) - math.sin(thrust)) * adjuster.spread / ends
    else:
        most = math.ceil(2 * REACH * adjuster.spread / adjuster.increment)
        amounts = np.array([k for k in range(-most, most + 1) if k]) * adjuster.increment
        aims = np.arcsin(math.sin(thrust) + ends * amounts / adjuster.spread)
    near = np.abs(amounts) <= limit
    return Places(aims[near], np.abs(amounts[near]) * ends)


def best_by_force(job: Job, answer: Solution) -> tuple[int, float] | None:
    """Fewest moves, then least movement in metres, over every position; None if none serves."""
    bounds = {finding.id: bound_of(finding, job.rule) for finding in answer.findings}
    straight = [axle for axle in job.vehicle.axles if axle.role != "steer"]
    places = [places_of(job, axle, len(straight)) for axle in straight]
    shape = tuple(len(p.aims) for p in places)
    holds = np.ones(shape, dtype=bool)
    moves, cost = np.zeros(shape, dtype=np.int64), np.zeros(shape)
    for at, (axle, own) in enumerate(zip(straight, places, strict=True)):
        bound = bounds[f"thrust-{axle.number}"]
        fine = bound.holds(own.aims)
        fine[0] |= not bound.broken
        holds &= along(fine, at, shape)
        moves = moves + along(own.moved, at, shape)
        cost = cost + along(own.cost, at, shape)
        if at:
            front = straight[at - 1]
            bound = bounds[f"scrub-{front.number}-{axle.number}"]
            apart = along(own.aims, at, shape) - along(places[at - 1].aims, at - 1, shape)
            stay = along(own.moved + 0, at, shape) + along(places[at - 1].moved, at - 1, shape) == 0
            holds &= bound.holds(apart) | (stay & (not bound.broken))
    if not holds.any():
        return None
    fewest = int(moves[holds].min())
    return fewest, float(cost[holds & (moves == fewest)].min())


def along(values: NDArray, axis: int, shape: tuple[int, ...]) -> NDArray:
    """Values laid along one axis of a grid."""
    return values.reshape([-1 if at == axis else 1 for at in range(len(shape))])


def planned(job: Job, answer: Solution) -> tuple[int, float]:
    """Moves of the plan and the movement at their adjusters, both ends counted."""
    steps = [step for step in answer.plan if step.amount is not None]
    assert {step.action.value for step in steps} <= {"aim"}
    total = 0.0
    for step in steps:
        assert step.amount is not None
        assert step.ends is not None
        total += step.amount.value * 1e-3 * (2 if step.ends.value == BOTH else 1)
    return len(steps), total


def out(answer: Solution) -> bool:
    return any(finding.verdict.value == "nonconforming" for finding in answer.findings)


LONG = [
    pytest.param(n, jobs, marks=pytest.mark.long) for n, jobs in ((2, 2000), (3, 800), (4, 200))
]


@pytest.mark.parametrize(("count", "jobs"), [(2, 100), (3, 50), (4, 20), *LONG])
def test_no_position_of_the_grid_takes_fewer_moves_or_less_movement(count: int, jobs: int) -> None:
    compared = 0
    for seed in range(jobs):
        job = random_aims(seeded(1000 * count + seed), count)
        answer = solution(job)
        found = best_by_force(job, answer) if out(answer) else None
        if found is not None:
            moves, movement = planned(job, answer)
            assert not answer.remaining, seed
            assert moves <= found[0], seed
            assert moves < found[0] or movement <= found[1] * (1 + 1e-4) + 1e-9, seed
            compared += 1
    assert compared > jobs / 2


@pytest.mark.parametrize(("count", "jobs"), [(2, 100), (3, 60), (4, 40), *LONG])
def test_in_steps_the_plan_is_the_best_of_all_positions(count: int, jobs: int) -> None:
    """The grid then holds every position there is: the two agree, also that none serves."""
    compared, none_serves = 0, 0
    for seed in range(jobs):
        job = random_aims(seeded(9000 * count + seed), count, stepped=True)
        answer = solution(job)
        if not out(answer):
            continue
        found = best_by_force(job, answer)
        if found is None:
            assert answer.remaining, seed
            none_serves += 1
            continue
        assert not answer.remaining, seed
        assert planned(job, answer) == pytest.approx(found, rel=1e-4, abs=1e-9), seed
        compared += 1
    assert compared > jobs / 4
    assert none_serves > jobs / 20


@pytest.mark.parametrize("rule", ["guarded", "simple"])
def test_a_tie_moves_the_front_axle(rule: str) -> None:
    """Two axles a little apart, either of which could be moved: the rear one comes last."""
    for sign in (1, -1):
        axles = [
            Axle(1, "steer", 0.0),
            Axle(2, "drive", 5.0, thrust=sign * 0.1 * DEGREE),
            Axle(3, "drive", 6.3, thrust=-sign * 0.1 * DEGREE),
        ]
        items = [{"kind": "sightline", "axle": n} for n in (2, 3)]
        items += [{"kind": "frame_gap", "axle": n} for n in (1, 2, 3)]
        rows = [row("thrust", 0.3, roles=["drive"]), row("scrub", 0.1)]
        answer = solution(Job(Vehicle("tractor", axles), items, rows, rule=rule))
        assert [step.axle for step in answer.plan] == [2]


def test_of_two_axles_the_one_that_goes_less_far_is_moved() -> None:
    """The same two axles, the rear one with its adjusting points nearer together."""
    axles = [
        Axle(1, "steer", 0.0),
        Axle(2, "drive", 5.0, thrust=0.1 * DEGREE),
        Axle(3, "drive", 6.3, thrust=-0.1 * DEGREE),
    ]
    items = [{"kind": "sightline", "axle": n} for n in (2, 3)]
    items += [{"kind": "frame_gap", "axle": n} for n in (1, 2, 3)]
    rows = [row("thrust", 0.3, roles=["drive"]), row("scrub", 0.1)]
    near = {3: [Adjuster(LONGITUDINAL, spread=1.0)]}
    answer = solution(Job(Vehicle("tractor", axles), items, rows, near))
    assert [step.axle for step in answer.plan] == [3]
