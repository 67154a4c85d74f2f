"""Shims, wedges and turns against plain enumeration: every position that an adjuster has is tried.

Limits are taken as they are (`decision_rule: simple`), so that whether a position serves is one
comparison.
"""

import math
from itertools import product

import pytest
from geometry.planning.layouts import DEGREE, job_of, put_out, tractor, with_wheels
from geometry.planning.yard import LATERAL, TIE_ROD, WEDGE, Adjuster, Job, row, solution
from simulator import Wheel, seeded
from simulator.fleet import Dice, chance

HAIR = 1e-7
"""Positions so near to a limit (mm, degrees) do not count: a plan keeps a hair inside."""

MANY = [range(120), range(1100, 1101), pytest.param(range(120, 2000), marks=pytest.mark.long)]
"""Seed 1100 is a toe that two parts of a turn bracket, one of them out by a hair."""


def wedge_job(dice: Dice) -> Job:
    """Two wheels at random, limits on either caster and on how the two sides differ."""
    vehicle = with_wheels(
        tractor(),
        1,
        *(
            Wheel(caster=dice.uniform(1, 7) * DEGREE, wedge=dice.uniform(0, 4) * DEGREE)
            for _ in "lr"
        ),
    )
    rows = [
        row("cross_caster", dice.uniform(0.2, 0.8), dice.choice((0.0, 0.5))),
        row("caster_left", dice.uniform(0.3, 2.5), 3.5),
        row("caster_right", dice.uniform(0.3, 2.5), 4.0),
        row("wedge_difference", dice.uniform(0.3, 1.5)),
    ]
    rows = [told for told in rows if chance(dice, 70)] or rows[:1]
    step = dice.choice((0.5, 0.5, 0.25, 1.0)) * DEGREE
    travel = dice.uniform(0.6, 3.0) * DEGREE if chance(dice, 40) else None
    return job_of(
        vehicle, rows, {1: [Adjuster(WEDGE, increment=step, travel=travel)]}, rule="simple"
    )


def best_wedges(job: Job) -> tuple[int, float] | None:
    """Fewest sides changed and least change in degrees; None where no two wedges serve."""
    axle, (adjuster,) = job.vehicle.axle(1), job.adjusters[1]
    assert adjuster.increment is not None
    step, travel = adjuster.increment / DEGREE, (adjuster.travel or math.inf) / DEGREE
    most = math.floor(min(travel, 9) / step + 1e-9)
    found = []
    for left, right in product(range(-most, most + 1), repeat=2):
        shown = {
            "caster_left": axle.left.caster / DEGREE + left * step,
            "caster_right": axle.right.caster / DEGREE + right * step,
            "wedge_difference": (axle.right.wedge - axle.left.wedge) / DEGREE
            + (right - left) * step,
        }
        shown["cross_caster"] = shown["caster_right"] - shown["caster_left"]
        if all(
            float(told["lower"]) + HAIR <= shown[told["quantity"]] <= float(told["upper"]) - HAIR
            for told in job.rows
            if not isinstance(told, str)
        ):
            found.append((bool(left) + bool(right), (abs(left) + abs(right)) * step))
    return min(found) if found else None


@pytest.mark.parametrize("seeds", MANY)
def test_no_two_wedges_serve_with_less(seeds: range) -> None:
    served = unserved = 0
    for seed in seeds:
        job = wedge_job(seeded(seed))
        answer, best = solution(job), best_wedges(job)
        steps = [step for step in answer.plan if step.amount is not None]
        if best is None:
            assert answer.remaining, seed
            unserved += 1
            continue
        assert not answer.remaining, seed
        change = math.fsum(step.amount.value for step in steps if step.amount is not None)
        assert (len(steps), change) == (best[0], pytest.approx(best[1], abs=1e-9)), seed
        served += best[0] > 0
    assert served >= (len(seeds) - 1) / 3
    assert unserved >= (len(seeds) - 1) / 30


@pytest.mark.parametrize("seeds", MANY)
def test_no_shim_less_brings_an_axle_in(seeds: range) -> None:
    served = unserved = 0
    for seed in seeds:
        dice = seeded(seed)
        offset, half, shim = dice.uniform(-25, 25), dice.uniform(0.5, 6), dice.uniform(0.5, 5)
        travel = dice.uniform(2, 25) if chance(dice, 40) else math.inf
        told = None if travel == math.inf else travel * 1e-3
        shims = {3: [Adjuster(LATERAL, increment=shim * 1e-3, travel=told)]}
        vehicle = put_out(tractor(), 3, offset=offset)
        answer = solution(job_of(vehicle, [row("offset", half)], shims, rule="simple"))
        most = math.floor(min(travel, 60) / shim + 1e-9)
        counts = [k for k in range(-most, most + 1) if abs(offset + k * shim) <= half - HAIR]
        moved = [step.amount.value for step in answer.plan if step.amount is not None]
        if not counts:
            assert answer.remaining, seed
            unserved += 1
            continue
        best = min(counts, key=abs) * shim
        assert math.fsum(moved) == pytest.approx(abs(best), abs=1e-9), seed
        assert len(moved) == (best != 0)
        assert not answer.remaining
        served += best != 0
    assert served >= (len(seeds) - 1) / 3
    assert unserved >= (len(seeds) - 1) / 30


@pytest.mark.parametrize("seeds", MANY)
def test_no_other_part_of_a_turn_sets_the_toe_nearer_to_nominal(seeds: range) -> None:
    """A turn of both hands makes two pitches over the arm of toe; what conforms is left alone."""
    served = unserved = 0
    for seed in seeds:
        dice = seeded(seed)
        toe, half = dice.uniform(-1, 1), dice.uniform(0.01, 0.12)
        part, pitch, arm = dice.choice((0.125, 0.25, 0.5)), dice.uniform(1e-3, 2e-3), 0.2
        per_part = part * 2 * pitch / arm / DEGREE
        rod = {1: [Adjuster(TIE_ROD, increment=part, pitch=pitch, arm=arm)]}
        rows = [row("toe", half, 0.09, axles=[1])]
        answer = solution(job_of(put_out(tractor(), 1, toe=toe), rows, rod, rule="simple"))
        counts = [k for k in range(-60, 61) if abs(toe - 0.09 + k * per_part) <= half - HAIR]
        turned = [step.turns for step in answer.plan if step.turns is not None]
        if not counts:
            assert answer.remaining, seed
            unserved += 1
            continue
        nearest = min(counts, key=lambda k: abs(toe - 0.09 + k * per_part))
        best = 0 if 0 in counts else nearest * part
        assert math.fsum(turned) == pytest.approx(abs(best), abs=1e-9), seed
        served += best != 0
    assert served >= (len(seeds) - 1) / 3
    assert unserved >= (len(seeds) - 1) / 30
