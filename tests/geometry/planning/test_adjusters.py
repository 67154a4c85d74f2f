"""How much an adjuster has to move: halves and wholes of a difference, turns of a tie rod."""

import math

import pytest
from geometry.planning.layouts import DEGREE, INCH, job_of, put_out, tractor
from geometry.planning.technician import carried_out, size
from geometry.planning.yard import (
    BOTH,
    LATERAL,
    LEFT_END,
    LONGITUDINAL,
    RIGHT_END,
    TIE_ROD,
    Adjuster,
    row,
    solution,
)
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import brentq
from simulator.plane import Point, distance

from service.geometry.planning.adjusters import Adjuster as Known
from service.geometry.planning.moving import amount_of, moved_by, pivoted


def test_a_lateral_shim_is_half_the_side_to_side_difference() -> None:
    """Hendrickson 17730-283 (PRIMAAX EX), p. 34: 1/4 in difference takes a 1/8 in shim."""
    vehicle = put_out(tractor(), 3, offset=1 / 8 * INCH * 1000)
    rows = [row("offset_difference", 3.0)]
    answer = solution(job_of(vehicle, rows, plan_to="nominal", unit="in"))
    difference = answer.axles[2].offset_difference
    assert difference is not None
    assert difference.value == pytest.approx(1 / 4, abs=1e-9)
    assert [step.action.value for step in answer.plan] == ["centre"]
    assert answer.plan[0].amount is not None
    assert answer.plan[0].amount.value == pytest.approx(1 / 8, abs=1e-9)


@pytest.mark.parametrize(("ends", "share"), [(BOTH, 0.5), (LEFT_END, 1.0), (RIGHT_END, 1.0)])
def test_both_ends_move_half_the_difference_and_one_end_the_whole(ends: str, share: float) -> None:
    """TM 5-2330-325-13&P, WP 0052: half of D less D1 squares an axle whose two ends move."""
    vehicle, spread = put_out(tractor(), 3, thrust=0.3), 1.2
    rows = [row("thrust", 0.1, roles=["drive"])]
    turning = {3: [Adjuster(LONGITUDINAL, ends, spread=spread)]}
    answer = solution(job_of(vehicle, rows, turning, plan_to="nominal"))
    (step,) = answer.plan
    # The difference along the frame between the two adjusting points.
    assert size(step) == pytest.approx(share * spread * math.sin(0.3 * DEGREE), abs=1e-9)
    assert step.ends is not None
    assert step.ends.value == ends


@pytest.mark.parametrize(
    ("thrust", "ends", "side", "direction"),
    [
        (0.3, BOTH, "right", "forward"),
        (-0.3, BOTH, "left", "forward"),
        (0.3, LEFT_END, "left", "rearward"),
        (-0.3, LEFT_END, "left", "forward"),
        (0.3, RIGHT_END, "right", "forward"),
        (-0.3, RIGHT_END, "right", "rearward"),
    ],
)
def test_an_axle_that_aims_right_wants_its_right_end_forward(
    thrust: float, ends: str, side: str, direction: str
) -> None:
    vehicle = put_out(tractor(), 3, thrust=thrust)
    rows = [row("thrust", 0.1, roles=["drive"])]
    (step,) = solution(job_of(vehicle, rows, {3: [Adjuster(LONGITUDINAL, ends)]})).plan
    assert step.side is not None
    assert step.direction is not None
    assert (step.side.value, step.direction.value) == (side, direction)


def test_an_axle_turned_by_one_end_is_centred_for_where_its_centre_will_be() -> None:
    """The end that is held is a pivot: the centre goes aside with the cosine of the aim."""
    vehicle = put_out(put_out(tractor(), 3, thrust=2.5), 3, offset=30)
    rows = [row("thrust", 0.2, roles=["drive"]), row("offset", 4.0)]
    for ends in (LEFT_END, RIGHT_END):
        turning = [Adjuster(LATERAL), Adjuster(LONGITUDINAL, ends, spread=1.8)]
        job = job_of(vehicle, rows, {3: turning}, plan_to="nominal")
        answer = solution(job)
        assert [step.action.value for step in answer.plan] == ["centre", "aim"]
        after_centring, after_all = carried_out(job, answer.plan)
        assert abs(after_centring.axle(3).offset) > 0.5e-3
        assert after_all.axle(3).offset == pytest.approx(0, abs=1e-9)
        assert answer.remaining == []


AMOUNTS = st.floats(-0.02, 0.02)
KNOWN = st.sampled_from(
    [
        Known("longitudinal", None, 1.8),
        Known("longitudinal", "left", 1.0),
        Known("longitudinal", "right", 1.4),
        Known("lateral"),
        Known("tie_rod"),
        Known("tie_rod", pitch=1.4e-3, arm=0.2),
        Known("tie_rod", pitch=1.4e-3, arm=0.2, threads=1),
        Known("wedge"),
    ]
)


@given(adjuster=KNOWN, start=st.floats(-0.05, 0.05), amount=AMOUNTS)
def test_the_amount_is_the_inverse_of_the_movement(
    adjuster: Known, start: float, amount: float
) -> None:
    after = moved_by(adjuster, start, amount)
    assert amount_of(adjuster, start, after) == pytest.approx(amount, abs=1e-13)


@given(start=st.floats(-0.06, 0.06), after=st.floats(-0.06, 0.06), spread=st.floats(0.5, 2))
def test_the_end_that_is_held_stays_where_it_is(start: float, after: float, spread: float) -> None:
    for end, held in (("left", 1), ("right", -1)):
        back, right = pivoted(Known("longitudinal", end, spread), start, after)

        def point(aim: float, x: float, y: float, side: int = held) -> Point:
            return (x - side * spread / 2 * math.sin(aim), y + side * spread / 2 * math.cos(aim))

        assert distance(point(start, 0, 0), point(after, -back, right)) < 1e-15


def rod_length(arm: float, apart: float, toe: float, ahead: int) -> float:
    """Between the ends of two arms of wheels toed in, the arms square to the rod at no toe.

    Kingpins `apart`; arms point rearward, or ahead of the axle. Plane geometry only.
    """
    left, right = toe / 2, -toe / 2  # headings: toe-in turns the left wheel right

    def arm_end(y: float, heading: float) -> Point:
        return (ahead * arm * math.cos(heading), y + ahead * arm * math.sin(heading))

    return distance(arm_end(-apart / 2, left), arm_end(apart / 2, right))


@pytest.mark.parametrize("ends", ["both_hands", "one_hand"])
@pytest.mark.parametrize("toe", [0.6, -0.4])
def test_turns_of_a_tie_rod_make_the_toe_of_its_linkage(toe: float, ends: str) -> None:
    """The rod screwed by the turns of the step stands the wheels at the planned toe."""
    arm, pitch, apart = 0.19, 1.5e-3, 1.75
    vehicle = put_out(tractor(), 1, toe=toe)
    rows = [row("toe", 0.08, 0.09, roles=["steer"])]
    rod = {1: [Adjuster(TIE_ROD, pitch=pitch, arm=arm, threads=ends)]}
    job = job_of(vehicle, rows, rod, plan_to="nominal")
    (step,) = solution(job).plan
    assert step.turns is not None
    assert step.direction is not None
    # A step that goes out takes the rod shorter where it lies behind the axle.
    screwed = step.turns * pitch * (2 if ends == "both_hands" else 1)
    screwed *= 1 if step.direction.value == "in" else -1
    length = rod_length(arm, apart, toe * DEGREE, -1) + screwed
    linkage = brentq(lambda t: rod_length(arm, apart, t, -1) - length, -0.05, 0.05, xtol=1e-15)
    planned = carried_out(job, [step])[-1].axle(1).toe
    assert planned == pytest.approx(0.09 * DEGREE, abs=1e-9)
    # Arms that stand a little askew to the rod are the only difference, of the third order.
    assert linkage == pytest.approx(planned, abs=1e-7)


def test_behind_the_axle_a_longer_rod_toes_in_and_ahead_of_it_out() -> None:
    shortest = rod_length(0.19, 1.75, 0.0, -1)
    assert rod_length(0.19, 1.75, 0.01, -1) > shortest > rod_length(0.19, 1.75, -0.01, -1)
    assert rod_length(0.19, 1.75, 0.01, 1) < shortest < rod_length(0.19, 1.75, -0.01, 1)


def test_the_words_say_so() -> None:
    rows = [row("toe", 0.08, 0.09, roles=["steer"])]
    rod = {1: [Adjuster(TIE_ROD, pitch=1.5e-3, arm=0.19)]}
    for toe, behind, ahead in ((-0.4, "longer", "shorter"), (0.6, "shorter", "longer")):
        (step,) = solution(job_of(put_out(tractor(), 1, toe=toe), rows, rod)).plan
        assert f"{behind} ({ahead} if it lies ahead of the axle)" in step.text


def test_any_adjuster_of_an_axle_may_serve() -> None:
    """One end is at the end of its travel: the other one is moved."""
    vehicle = put_out(tractor(), 3, thrust=0.4)
    rows = [row("thrust", 0.1, roles=["drive"])]
    worn = Adjuster(LONGITUDINAL, LEFT_END, spread=1.8, travel=1e-3)
    fresh = Adjuster(LONGITUDINAL, RIGHT_END, spread=1.8, travel=20e-3)
    for order in ([worn, fresh], [fresh, worn]):
        answer = solution(job_of(vehicle, rows, {3: order}))
        (step,) = answer.plan
        assert step.side is not None
        assert step.side.value == "right"
        assert answer.remaining == []


def test_of_two_adjusters_the_one_that_moves_less_is_taken() -> None:
    vehicle = put_out(tractor(), 3, thrust=0.4)
    rows = [row("thrust", 0.1, roles=["drive"])]
    wide = Adjuster(LONGITUDINAL, LEFT_END, spread=1.9)
    narrow = Adjuster(LONGITUDINAL, RIGHT_END, spread=0.9)
    (step,) = solution(job_of(vehicle, rows, {3: [wide, narrow]})).plan
    assert step.side is not None
    assert step.side.value == "right"


@pytest.mark.parametrize(
    ("adjusters", "kinds", "words"),
    [
        ({}, ("sightline", "frame_gap"), "measured at the axle ends, 71 1/2 in apart"),
        (
            {3: [Adjuster(LONGITUDINAL, spread=40 * INCH)]},
            (),
            "measured at the adjusting points, 40 in apart",
        ),
        ({}, (), "measured at the points the tape was held to, 70 7/8 in apart"),
    ],
)
def test_the_text_says_where_an_amount_is_measured(
    adjusters: dict[int, list[Adjuster]], kinds: tuple[str, ...], words: str
) -> None:
    vehicle = put_out(tractor(), 3, thrust=0.4)
    rows = [row("thrust", 0.1, roles=["drive"])]
    (step,) = solution(job_of(vehicle, rows, adjusters, *kinds, unit="in")).plan
    assert words in step.text
