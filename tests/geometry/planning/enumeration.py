"""Every position of a fine grid of aims, and the best of them by plain enumeration.

The limits are found with scipy; only the rules of what counts are shared with the planner: what is
out comes in and nothing else goes further out; then the fewest moves, then the least left outside
of what was undecided, then the least movement at the adjusters.
"""

import math
from dataclasses import dataclass

import numpy as np
from geometry.planning.technician import AXLE_ENDS
from geometry.planning.yard import BOTH, LONGITUDINAL, Adjuster, Job
from numpy.typing import NDArray
from scipy.optimize import brentq
from scipy.stats import norm
from simulator import Axle

from service.contract.solution import Finding, Solution
from service.geometry.planning.limits import INSIDE, ROUNDING

DEGREE = math.pi / 180
GRID = {2: 241, 3: 49, 4: 19}
"""Positions of each stepless axle, by how many axles there are."""

REACH = 0.6 * DEGREE


@dataclass(slots=True)
class Bound:
    """Where a finding counts as met, where it stands now (radians), and what is said of that."""

    lower: float
    upper: float
    start: float
    verdict: str

    def outside(self, values: NDArray[np.float64]) -> NDArray[np.float64]:
        return np.maximum(np.maximum(self.lower - values, values - self.upper), 0.0)

    def allows(self, values: NDArray[np.float64]) -> NDArray[np.bool_]:
        """What is out has to come in; nothing else goes further out than it is."""
        now = float(self.outside(np.array(self.start)))
        return self.outside(values) <= (0.0 if self.verdict == "nonconforming" else now) + 1e-12

    def unsure(self, values: NDArray[np.float64]) -> NDArray[np.float64]:
        """How far outside an undecided finding is left."""
        return self.outside(values) * (self.verdict == "undetermined")


def bound_of(finding: Finding, rule: str, inside: float = INSIDE) -> Bound:
    """The interval of probability 0.95 by scipy, less the hair that the planner keeps inside."""
    assert finding.lower is not None
    assert finding.upper is not None
    low, high = finding.lower * DEGREE, finding.upper * DEGREE
    u = finding.estimate.uncertainty / 2 * DEGREE
    told = finding.estimate.value * DEGREE, finding.verdict.value
    if rule == "simple":
        return Bound(low + ROUNDING, high - ROUNDING, *told)
    middle = (low + high) / 2

    def short(value: float) -> float:
        return float(norm.cdf((high - value) / u) - norm.cdf((low - value) / u) - 0.95)

    assert short(middle) > 0, "these targets are wide enough to be sure of"
    reach = brentq(short, middle, high + 5 * u, xtol=1e-15) - middle
    hair = inside * u + ROUNDING
    return Bound(middle - reach + hair, middle + reach - hair, *told)


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


@dataclass(slots=True)
class Best:
    """What counts of a plan: its moves, what it leaves undecided (radians), its movement (m)."""

    moves: int
    unsure: float
    movement: float


def best_by_force(job: Job, answer: Solution, inside: float = INSIDE) -> Best | None:
    """The best that any position gives; None if none brings in what is out.

    `inside`: share of an uncertainty by which what was out has to come inside.
    """
    findings = {finding.id: finding for finding in answer.findings}
    straight = [axle for axle in job.vehicle.axles if axle.role != "steer"]
    places = [places_of(job, axle, len(straight)) for axle in straight]
    shape = tuple(len(one.aims) for one in places)
    allowed = np.ones(shape, dtype=bool)
    moves, unsure, cost = np.zeros(shape, dtype=np.int64), np.zeros(shape), np.zeros(shape)
    for at, (axle, own) in enumerate(zip(straight, places, strict=True)):
        bound = bound_of(findings[f"thrust-{axle.number}"], job.rule, inside)
        allowed &= along(bound.allows(own.aims), at, shape)
        unsure = unsure + along(bound.unsure(own.aims), at, shape)
        moves = moves + along(own.moved, at, shape)
        cost = cost + along(own.cost, at, shape)
        if at:
            front = places[at - 1]
            finding = findings[f"scrub-{straight[at - 1].number}-{axle.number}"]
            bound = bound_of(finding, job.rule, inside)
            apart = along(own.aims, at, shape) - along(front.aims, at - 1, shape)
            allowed &= bound.allows(apart)
            unsure = unsure + bound.unsure(apart)
    if not allowed.any():
        return None
    allowed &= moves == moves[allowed].min()
    allowed &= unsure <= unsure[allowed].min() + 1e-10
    at_best = np.flatnonzero(allowed)[np.argmin(cost[allowed])]
    return Best(int(moves.flat[at_best]), float(unsure.flat[at_best]), float(cost.flat[at_best]))


def along(values: NDArray, axis: int, shape: tuple[int, ...]) -> NDArray:
    """Values laid along one axis of a grid."""
    return values.reshape([-1 if at == axis else 1 for at in range(len(shape))])


def planned(job: Job, answer: Solution) -> Best:
    """Moves of the plan, what it leaves undecided, and the movement at the adjusters' ends."""
    steps = [step for step in answer.plan if step.amount is not None]
    assert {step.action.value for step in steps} <= {"aim"}
    total = 0.0
    for step in steps:
        assert step.amount is not None
        assert step.ends is not None
        total += step.amount.value * 1e-3 * (2 if step.ends.value == BOTH else 1)
    after = answer.findings if answer.prediction is None else answer.prediction.findings
    unsure = 0.0
    for was, now in zip(answer.findings, after, strict=True):
        unsure += float(bound_of(was, job.rule).unsure(np.array(now.estimate.value * DEGREE)))
    return Best(len(steps), unsure, total)
