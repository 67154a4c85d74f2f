"""The front end: setback squared, wedges matched, toe set, each by its own adjuster."""

import math

import pytest
from geometry.planning.layouts import DEGREE, job_of, put_out, tractor, with_wheels
from geometry.planning.technician import carried_out, size
from geometry.planning.yard import (
    LEFT_END,
    RIGHT_END,
    WEDGE,
    Adjuster,
    row,
    solution,
)
from simulator import Vehicle, Wheel

from service.contract.solution import PlanStep


def wheels(left: float, right: float, left_wedge: float = 2.0, right_wedge: float = 2.0) -> Vehicle:
    """A tractor with these casters and wedges, degrees."""
    return with_wheels(
        tractor(),
        1,
        Wheel(caster=left * DEGREE, wedge=left_wedge * DEGREE),
        Wheel(caster=right * DEGREE, wedge=right_wedge * DEGREE),
    )


def told(step: PlanStep) -> tuple[str, str, float]:
    """Side, way of the thick end, and size in degrees of a wedge step."""
    assert step.action.value == "match_wedges"
    assert step.side is not None
    assert step.direction is not None
    assert step.amount is not None
    return step.side.value, step.direction.value, pytest.approx(step.amount.value)  # type: ignore


CROSS = row("cross_caster", 0.3)


def test_wedges_change_in_half_degrees_where_nothing_is_said() -> None:
    """US Navy NAVEDTRA 14050A, p. 191. From 1.3 degrees apart, two steps leave 0.3 too close to
    the limit to be sure, and three leave 0.2."""
    (step,) = solution(job_of(wheels(3.0, 4.3), [CROSS])).plan
    assert told(step) == ("right", "forward", 1.5)
    assert step.exact is not None
    assert 1.0 < step.exact.value < 1.1


def test_of_two_equal_changes_the_thinner_wedge_is_fitted() -> None:
    """So that a mirrored truck gets the mirrored plan, and no wedge grows without need."""
    assert told(solution(job_of(wheels(3.0, 4.5), [CROSS])).plan[0])[:2] == ("right", "forward")
    assert told(solution(job_of(wheels(4.5, 3.0), [CROSS])).plan[0])[:2] == ("left", "forward")


def test_caster_limits_of_each_side_are_kept() -> None:
    """Taking the right side down would leave its own limits, so the left one goes up."""
    rows = [CROSS, row("caster_right", 0.8, 4.5), row("caster_left", 2.5, 4.0)]
    (step,) = solution(job_of(wheels(3.0, 4.5), rows)).plan
    assert told(step) == ("left", "rearward", 1.5)


def test_both_sides_change_where_both_are_out() -> None:
    rows = [row("caster_left", 0.4, 3.5), row("caster_right", 0.4, 4.0)]
    answer = solution(job_of(wheels(2.0, 6.0), rows))
    left, right = answer.plan
    assert told(left) == ("left", "rearward", 1.5)
    assert told(right) == ("right", "forward", 2.0)
    assert answer.remaining == []


def test_one_step_of_each_side_where_one_side_has_no_room() -> None:
    shims = {1: [Adjuster(WEDGE, increment=DEGREE / 2, travel=DEGREE / 2)]}
    answer = solution(job_of(wheels(3.0, 4.2), [CROSS], shims))
    left, right = answer.plan
    assert told(left) == ("left", "rearward", 0.5)
    assert told(right) == ("right", "forward", 0.5)
    assert answer.remaining == []


@pytest.mark.parametrize(("ends", "side"), [(LEFT_END, "left"), (RIGHT_END, "right")])
def test_a_wedge_adjuster_of_one_side_changes_that_side(ends: str, side: str) -> None:
    shims = {1: [Adjuster(WEDGE, ends, increment=DEGREE / 2)]}
    (step,) = solution(job_of(wheels(3.0, 4.5), [CROSS], shims)).plan
    assert told(step)[0] == side


def test_wedges_that_differ_are_matched() -> None:
    rows = [row("wedge_difference", 0.4)]
    answer = solution(job_of(wheels(4, 4, 2.0, 3.5), rows))
    (step,) = answer.plan
    assert told(step) == ("right", "forward", 1.5)
    assert answer.prediction is not None
    axle = answer.prediction.axles[0]
    assert axle.wedge_difference is not None
    assert axle.wedge_difference.value == pytest.approx(0)
    # The caster of the side goes with its wedge.
    assert axle.caster_right is not None
    assert axle.caster_right.value == pytest.approx(2.5)


def test_a_wedge_step_warns_of_stacking_and_of_a_stiff_beam() -> None:
    """US Navy NAVEDTRA 14050A, p. 191: one shim a side, no stacking."""
    (step,) = solution(job_of(wheels(3.0, 4.5), [CROSS])).plan
    assert "One wedge a side, never stacked" in step.text
    assert "measure caster again" in step.text


@pytest.mark.parametrize("skew", [0.5, -0.5])
def test_setback_is_squared_at_the_points_it_was_taped(skew: float) -> None:
    job = job_of(put_out(tractor(), 1, skew=skew), [row("setback", 3.0)], plan_to="nominal")
    answer = solution(job)
    (step,) = answer.plan
    assert step.action.value == "square"
    assert size(step) == pytest.approx(0.85 / 2 * math.sin(0.5 * DEGREE), abs=1e-9)
    assert step.side is not None
    assert step.side.value == ("right" if skew > 0 else "left"), "the end further back goes forward"
    assert carried_out(job, answer.plan)[-1].axle(1).skew == pytest.approx(0, abs=1e-9)


def test_a_toe_in_length_is_set_to_its_own_baseline() -> None:
    """A row over 1000 mm judges the axle's toe over 1020 mm: the same toe."""
    rows = [row("toe_length", 0.8, 1.5, baseline="1000 mm", roles=["steer"])]
    job = job_of(put_out(tractor(), 1, toe=0.4), rows, plan_to="nominal")
    answer = solution(job)
    (step,) = answer.plan
    toe = carried_out(job, answer.plan)[-1].axle(1).toe
    assert math.tan(toe) == pytest.approx(1.5 / 1000, abs=1e-9)
    (expected,) = step.expect
    assert expected.kind.value == "toe_scale"
    assert expected.marks[0].value == pytest.approx(1.5 * 1.02, abs=1e-6)
    assert step.direction is not None
    assert step.direction.value == "out"


def test_toe_of_a_single_wheel_is_brought_in_by_the_rod_where_the_wheels_aim_straight() -> None:
    rows = [row("toe_left", 0.06, 0.05), row("toe_right", 0.06, 0.05)]
    vehicle = put_out(tractor(), 1, toe=0.5)
    job = job_of(vehicle, rows)
    shows = [
        {"kind": "wheel_angle", "axle": 1, "side": side, "shows": ("toe",)}
        for side in ("left", "right")
    ]
    job.items += shows
    answer = solution(job)
    assert [step.action.value for step in answer.plan] == ["set_toe"]
    assert answer.remaining == []


def test_wheels_that_steer_aside_are_not_straightened_at_the_rod() -> None:
    """The rod alters both toes alike; what differs is the steering wheel's to set."""
    rows = [row("toe_left", 0.06, 0.05), row("toe_right", 0.06, 0.05)]
    job = job_of(put_out(tractor(), 1, toe=0.1, thrust=0.4), rows)
    job.items += [
        {"kind": "wheel_angle", "axle": 1, "side": side, "shows": ("toe",)}
        for side in ("left", "right")
    ]
    answer = solution(job)
    assert answer.plan == []
    assert {one.finding for one in answer.remaining} == {"toe_left-1", "toe_right-1"}


def test_the_aim_of_a_drive_axle_minds_the_toe_of_its_wheels() -> None:
    """Toe of one wheel hangs on aim: the axle turns only as far as both wheels allow."""
    rows = [
        row("thrust", 0.5, roles=["drive"]),
        row("toe_left", 0.2, roles=["drive"]),
        row("toe_right", 0.2, roles=["drive"]),
    ]
    job = job_of(put_out(tractor("drive"), 2, thrust=0.7, toe=0.1), rows, rule="simple")
    job.items += [
        {"kind": "wheel_angle", "axle": 2, "side": side, "shows": ("toe",)}
        for side in ("left", "right")
    ]
    answer = solution(job)
    (step,) = answer.plan
    assert set(step.because) == {"thrust-2", "toe_left-2", "toe_right-2"}
    aim = carried_out(job, answer.plan)[-1].axle(2).thrust
    # The left wheel shows aim plus half the toe: 0.15 is as far right as its 0.2 allow.
    assert aim == pytest.approx(0.15 * DEGREE, abs=1e-7)
    assert answer.remaining == []
