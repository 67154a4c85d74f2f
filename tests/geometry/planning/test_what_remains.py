"""Where no allowed move reaches conformity, the plan says which finding remains and by how much."""

import math

import pytest
from geometry.planning.layouts import DEGREE, job_of, put_out, towed, tractor, with_wheels
from geometry.planning.yard import (
    LATERAL,
    LONGITUDINAL,
    Adjuster,
    Job,
    body,
    row,
    solution,
    solved,
)
from simulator import Wheel, read_all

from service.contract.solution import Solution

THRUST = row("thrust", 0.1, roles=["drive"])
SCRUB = row("scrub", 0.1, roles=["drive"])


def remaining(answer: Solution) -> dict[str, float]:
    return {one.finding: one.beyond for one in answer.remaining}


def test_an_axle_that_cannot_be_moved_is_left_and_named() -> None:
    job = job_of(put_out(tractor(), 3, thrust=0.35), [THRUST], {3: []})
    answer = solution(job)
    assert answer.plan == []
    assert answer.prediction is None
    assert remaining(answer) == pytest.approx({"thrust-3": 0.25})
    assert answer.remaining[0].unit.value == "deg"
    assert answer.remaining[0].text == (
        "Axle 3: thrust stays 0.25° beyond its limit; no move that the adjusters allow was found "
        "to bring it inside."
    )


def test_an_adjuster_of_another_kind_does_not_help() -> None:
    job = job_of(put_out(tractor(), 3, thrust=0.35), [THRUST], {3: [Adjuster(LATERAL)]})
    assert solution(job).plan == []


def test_travel_is_used_up_and_what_is_left_is_told() -> None:
    spread, travel = 1.8, 3e-3
    turning = {3: [Adjuster(LONGITUDINAL, "left_end", spread, travel=travel)]}
    answer = solution(job_of(put_out(tractor(), 3, thrust=0.35), [THRUST], turning))
    (step,) = answer.plan
    assert step.amount is not None
    assert step.amount.value == pytest.approx(3.0)
    left = math.degrees(math.asin(math.sin(0.35 * DEGREE) - travel / spread))
    assert remaining(answer) == pytest.approx({"thrust-3": left - 0.1}, abs=1e-9)


def test_steps_too_coarse_for_the_limits_end_at_the_nearest_one() -> None:
    """Steps of 0.3 degrees from 0.4: at 0.1 the value is at its limit and not surely inside."""
    increment = 1.8 * math.sin(0.3 * DEGREE)
    turning = {3: [Adjuster(LONGITUDINAL, "left_end", 1.8, increment)]}
    answer = solution(job_of(put_out(tractor(), 3, thrust=0.41), [THRUST], turning))
    (step,) = answer.plan
    assert step.amount is not None
    assert step.amount.value == pytest.approx(increment * 1e3)
    assert remaining(answer) == pytest.approx({"thrust-3": 0.01}, abs=1e-4)
    assert answer.prediction is not None
    assert answer.prediction.axles[2].thrust is not None
    assert answer.prediction.axles[2].thrust.value == pytest.approx(0.11, abs=1e-4)


def test_an_uncertainty_too_large_for_the_limits_is_told_as_such() -> None:
    """The axle is brought to the middle; being sure of it takes a better reading."""
    job = job_of(put_out(tractor(), 3, offset=9.0), [row("offset", 0.5)])
    answer = solution(job)
    assert [step.action.value for step in answer.plan][-1] == "centre"
    assert remaining(answer) == {"offset-3": 0.0}
    assert "too near to one of them to be sure of it" in answer.remaining[0].text


def test_what_stays_undecided_is_no_reason_to_leave_what_is_broken() -> None:
    """A tenth of the travel that both would take: the thrust is brought nearer all the same."""
    vehicle = put_out(put_out(tractor(), 2, thrust=0.04), 3, thrust=0.16)
    turning = {2: [], 3: [Adjuster(LONGITUDINAL, "left_end", 1.8, travel=0.2e-3)]}
    job = job_of(vehicle, [THRUST, SCRUB], turning)
    answer = solved(body(job, read_all(job.vehicle, job.items)))
    verdicts = {finding.id: finding.verdict.value for finding in answer.findings}
    assert verdicts["thrust-3"] == "nonconforming"
    assert verdicts["scrub-2-3"] == "undetermined"
    (step,) = (step for step in answer.plan if step.amount is not None)
    assert step.amount is not None
    assert (step.axle, step.amount.value) == (3, pytest.approx(0.2))
    assert set(remaining(answer)) == {"thrust-3"}


def test_a_neighbour_that_cannot_follow_keeps_an_axle_from_leaving_it() -> None:
    """Both aim wrong alike and the rear one is fixed: making them scrub is no mending.

    The front one goes as far as the scrub limits let it, and both thrusts are named.
    """
    vehicle = put_out(put_out(tractor(), 2, thrust=0.4), 3, thrust=0.4)
    answer = solution(job_of(vehicle, [THRUST, SCRUB], {3: []}, rule="simple"))
    assert answer.prediction is not None
    verdicts = {f.id: f.verdict.value for f in answer.prediction.findings}
    assert verdicts["scrub-2-3"] == "conforming"
    assert remaining(answer) == pytest.approx({"thrust-2": 0.2, "thrust-3": 0.3}, abs=1e-6)


def test_of_two_that_are_right_only_the_one_whose_move_mends_something_moves() -> None:
    """The rear one stands the other way, too far for its scrub to be mended by any move."""
    vehicle = put_out(put_out(towed("trailer", 3), 2, thrust=0.2), 3, thrust=-0.09)
    rows = [row("thrust", 0.1), row("scrub", 0.15)]
    turning = {2: [], 3: [Adjuster(LONGITUDINAL, "left_end", 1.8, travel=1e-3)]}
    answer = solution(job_of(vehicle, rows, turning, rule="simple"))
    assert [step.axle for step in answer.plan if step.amount is not None] == [1]
    expected = {"thrust-2": 0.1, "scrub-2-3": 0.14}
    assert remaining(answer) == pytest.approx(expected, abs=1e-6)


def test_what_no_adjuster_of_an_axle_changes_remains() -> None:
    """Camber: machined in on most steer axles (Spicer AXAG400, p. 20)."""
    leaning = Wheel(camber=1.2 * DEGREE, caster=4 * DEGREE)
    vehicle = with_wheels(tractor(), 1, leaning, Wheel(caster=4 * DEGREE))
    answer = solution(job_of(vehicle, [row("camber_left", 0.5)]))
    assert answer.plan == []
    assert remaining(answer) == pytest.approx({"camber_left-1": 0.7}, abs=1e-9)
    assert "machined" in answer.remaining[0].text


def test_lengths_remain_in_the_unit_of_the_request() -> None:
    for unit, factor in (("in", 1 / 25.4), ("mm", 1.0), ("cm", 0.1)):
        job = job_of(put_out(tractor(), 2, offset=9.0), [row("offset", 4.0)], {2: []}, unit=unit)
        (one,) = solution(job).remaining
        assert (one.unit.value, one.beyond) == (unit, pytest.approx(5.0 * factor))


def test_a_limit_on_one_side_only_is_measured_from_there() -> None:
    target = row("offset", 4.0)
    del target["lower"]
    job = job_of(put_out(tractor(), 2, offset=9.0), [target], {2: []})
    assert remaining(solution(job)) == pytest.approx({"offset-2": 5.0})
    other_side = job_of(put_out(tractor(), 2, offset=-9.0), [target], {2: []})
    assert solution(other_side).remaining == []


def fixed_askew(thrust: float) -> Solution:
    """One of three trailer axles is fixed askew, its neighbours stand straight."""
    vehicle = put_out(towed("trailer", 3), 2, thrust=thrust)
    rows = [row("thrust", 0.1), row("scrub", 0.15)]
    return solution(job_of(vehicle, rows, {2: []}, rule="simple"))


def test_axles_that_are_right_turn_towards_one_that_is_not_where_that_mends_the_scrub() -> None:
    answer = fixed_askew(0.2)
    assert [step.axle for step in answer.plan if step.amount is not None] == [1, 3]
    assert remaining(answer) == pytest.approx({"thrust-2": 0.1}, abs=1e-6)


def test_axles_that_are_right_are_left_where_moving_them_mends_nothing() -> None:
    """They could turn as far as their own thrust allows; the scrub would be too large as well."""
    answer = fixed_askew(0.5)
    assert answer.plan == []
    expected = {"thrust-2": 0.4, "scrub-1-2": 0.35, "scrub-2-3": 0.35}
    assert remaining(answer) == pytest.approx(expected, abs=1e-6)


def test_one_that_is_right_moves_where_its_move_mends_one_of_two_scrubs() -> None:
    """The rear one can't turn at all: the front one does, for its scrub to the one askew."""
    vehicle = put_out(towed("trailer", 3), 2, thrust=0.2)
    rows = [row("thrust", 0.1), row("scrub", 0.15)]
    answer = solution(job_of(vehicle, rows, {2: [], 3: []}, rule="simple"))
    assert [step.axle for step in answer.plan if step.amount is not None] == [1]
    expected = {"thrust-2": 0.1, "scrub-2-3": 0.05}
    assert remaining(answer) == pytest.approx(expected, abs=1e-6)


def test_the_request_can_do_without_a_plan() -> None:
    job = job_of(put_out(tractor(), 3, thrust=0.35), [THRUST])
    assert solution(job).plan
    off = solution(Job(**{**fields(job), "extra": {"plan": False}}))
    assert (off.plan, off.prediction, off.remaining) == ([], None, [])
    assert off.findings == solution(job).findings


def fields(job: Job) -> dict[str, object]:
    return {name: getattr(job, name) for name in Job.__dataclass_fields__}
