"""`plan_to`: just within the limits, or all the way to the nominal value."""

import pytest
from geometry.planning.jobs import random_job
from geometry.planning.layouts import DEGREE, job_of, put_out, tractor
from geometry.planning.technician import carried_out
from geometry.planning.yard import LATERAL, LONGITUDINAL, Adjuster, row, solution
from simulator import seeded

DRIVE = {"roles": ["drive"]}


def test_to_limits_moves_just_inside() -> None:
    job = job_of(put_out(tractor(), 3, offset=9.0), [row("offset", 4.0)], rule="simple")
    after = carried_out(job, solution(job).plan)[-1]
    assert after.axle(3).offset == pytest.approx(4e-3, abs=1e-8)


def test_to_nominal_moves_all_the_way() -> None:
    rows = [row("offset", 4.0, 1.0), row("thrust", 0.1, 0.02, **DRIVE)]
    vehicle = put_out(tractor(), 3, offset=9.0, thrust=0.4)
    job = job_of(vehicle, rows, plan_to="nominal")
    after = carried_out(job, solution(job).plan)[-1].axle(3)
    assert after.offset == pytest.approx(1e-3, abs=1e-9)
    assert after.thrust == pytest.approx(0.02 * DEGREE, abs=1e-9)


@pytest.mark.parametrize("seeds", [range(60), pytest.param(range(60, 900), marks=pytest.mark.long)])
def test_to_nominal_moves_no_more_axles_than_to_limits(seeds: range) -> None:
    """Where all is mended; of what cannot be, either goal may leave something else."""
    seen = 0
    for seed in seeds:
        job = random_job(seeded(seed))
        count, remain = [], False
        for goal in ("limits", "nominal"):
            job.plan_to = goal
            answer = solution(job)
            count.append(sum(step.amount is not None for step in answer.plan))
            remain = remain or bool(answer.remaining)
        if not remain:
            assert count[0] == count[1], seed
            seen += count[0]
    assert seen > len(seeds) / 2


def test_a_scrub_by_itself_goes_to_its_nominal() -> None:
    """No row says where an axle should aim, only how the two should stand to each other."""
    rows = [row("scrub", 0.1, 0.05)]
    job = job_of(put_out(tractor(), 3, thrust=0.4), rows, plan_to="nominal")
    after = carried_out(job, solution(job).plan)[-1]
    scrub = after.axle(3).thrust - after.axle(2).thrust
    assert scrub == pytest.approx(0.05 * DEGREE, abs=1e-9)


def test_nominal_is_reached_to_the_nearest_step() -> None:
    steps = {3: [Adjuster(LATERAL, increment=2e-3), Adjuster(LONGITUDINAL)]}
    job = job_of(put_out(tractor(), 3, offset=9.0), [row("offset", 4.0)], steps, plan_to="nominal")
    after = carried_out(job, solution(job).plan)[-1]
    assert abs(after.axle(3).offset) == pytest.approx(1e-3, abs=1e-9)


def test_of_two_axles_that_serve_the_one_that_leaves_them_nearer_to_nominal_is_moved() -> None:
    """Axle 2 straight leaves 0.1 between the two, axle 3 straight 0.2: both would do."""
    rows = [row("thrust", 0.35, **DRIVE), row("scrub", 0.25, **DRIVE)]
    vehicle = put_out(put_out(tractor(), 2, thrust=0.2), 3, thrust=-0.1)
    answer = solution(job_of(vehicle, rows, plan_to="nominal"))
    assert [step.axle for step in answer.plan if step.amount is not None] == [2]
    behind = put_out(put_out(tractor(), 2, thrust=-0.1), 3, thrust=0.2)
    answer = solution(job_of(behind, rows, plan_to="nominal"))
    assert [step.axle for step in answer.plan if step.amount is not None] == [3]


def test_unequal_aims_that_a_shop_wants_are_planned_for() -> None:
    """Some shops aim the two axles of a tandem apart on purpose."""
    rows = [
        row("thrust", 0.05, 0.1, axles=[2]),
        row("thrust", 0.05, -0.1, axles=[3]),
        row("scrub", 0.08, -0.2),
    ]
    job = job_of(tractor(), rows, plan_to="nominal")
    answer = solution(job)
    after = carried_out(job, answer.plan)[-1]
    assert after.axle(2).thrust == pytest.approx(0.1 * DEGREE, abs=1e-9)
    assert after.axle(3).thrust == pytest.approx(-0.1 * DEGREE, abs=1e-9)
    assert answer.remaining == []
