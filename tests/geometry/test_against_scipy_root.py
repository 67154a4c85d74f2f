"""Straight running against the nonlinear equations, solved by scipy.optimize.root.

Nothing here is linear: every axle is placed by a rotation, every tyre pushes square to its own
wheels by stiffness times the arc tangent of its velocities, its drag and the drive axle's pull
keep their levers, and gravity acts at the turned centre of gravity.
"""

from math import radians, sin

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import root

from service.geometry.running import Road, straight_running
from service.geometry.stance import RunningAxle


def rotation(heading: float) -> np.ndarray:
    """Turns a vector (forward, right) clockwise seen from above."""
    c, s = np.cos(heading), np.sin(heading)
    return np.array([[c, -s], [s, c]])


def cross(arm: np.ndarray, force: np.ndarray) -> float:
    """Yaw moment, clockwise positive, of a force (forward, right) at a place (forward, right)."""
    return float(arm[0] * force[1] - arm[1] * force[0])


def tyre_force(heading: float, stiffness: float) -> np.ndarray:
    """Force on an axle moving straight ahead with its wheels turned `heading` to the right."""
    along, across = rotation(-heading) @ np.array([1.0, 0.0])
    slip = -np.arctan2(across, along)
    return rotation(heading) @ np.array([0.0, stiffness * slip])


def balance(unknowns: np.ndarray, axles: list[RunningAxle], hitch: float | None, road: Road):
    """Side force and yaw moment that are left over, over the largest stiffness."""
    crab, other, pull = unknowns
    scale = max(axle.stiffness for axle in axles)
    frame = rotation(crab)
    force, moment = np.zeros(2), 0.0
    turn = other if hitch is None else 0.0
    for axle in axles:
        heading = crab + axle.thrust + (axle.steer_ratio * turn if axle.steered else 0.0)
        place = frame @ np.array([-axle.distance, 0.0])
        push = tyre_force(heading, axle.stiffness)
        force, moment = force + push, moment + cross(place, push)
    weight = np.array([0.0, road.weight * sin(road.cross_slope)])
    force = force + weight
    moment += cross(frame @ np.array([-road.centre_of_gravity, 0.0]), weight)
    puller = axles[-1].distance if hitch is None else hitch
    drive = np.array([pull * scale, 0.0 if hitch is None else other * scale])
    force, moment = force + drive, moment + cross(frame @ np.array([-puller, 0.0]), drive)
    return [*(force / scale), moment / scale]


def nonlinear(axles: list[RunningAxle], hitch: float | None, road: Road) -> tuple[float, float]:
    """Crab, and turn (steered) or pin force (towed), from the root of the full equations."""
    answer = root(balance, np.zeros(3), args=(axles, hitch, road), tol=1e-14)
    assert np.max(np.abs(balance(answer.x, axles, hitch, road))) < 1e-12
    scale = max(axle.stiffness for axle in axles)
    return answer.x[0], answer.x[1] * (1.0 if hitch is None else scale)


def tractor(aim: float) -> list[RunningAxle]:
    """An invented tractor with a pusher; aims in units of `aim`."""
    return [
        RunningAxle(1, 0.0, 0.2 * aim, 400e3, steered=True),
        RunningAxle(2, 3.1, -0.7 * aim, 200e3),
        RunningAxle(3, 4.8, 1.0 * aim, 650e3),
        RunningAxle(4, 6.1, -0.4 * aim, 650e3),
    ]


def trailer(aim: float) -> list[RunningAxle]:
    """An invented three-axle trailer."""
    return [
        RunningAxle(1, 9.0, 1.0 * aim, 600e3),
        RunningAxle(2, 10.3, -0.3 * aim, 600e3),
        RunningAxle(3, 11.6, 0.5 * aim, 600e3),
    ]


def slope(aim: float) -> Road:
    """A cross-slope that grows with the aim, so that every term is of one order."""
    return Road(cross_slope=3.0 * aim, weight=200e3, centre_of_gravity=4.0)


def steered_difference(aim: float) -> float:
    """Largest difference of crab and turn between the linear answer and the full one, radians."""
    linear = straight_running(tractor(aim), road=slope(aim))
    crab, turn = nonlinear(tractor(aim), None, slope(aim))
    return max(abs(linear.crab - crab), abs(linear.turn - turn))


def towed_difference(aim: float) -> float:
    """The same of the crab angle of a trailer."""
    linear = straight_running(trailer(aim), hitch=0.0, road=slope(aim))
    return abs(linear.crab - nonlinear(trailer(aim), 0.0, slope(aim))[0])


def test_at_a_tenth_of_a_degree_the_linear_answer_is_good_to_a_millionth_of_a_degree() -> None:
    assert steered_difference(radians(0.1)) < radians(1e-6)
    assert towed_difference(radians(0.1)) < radians(1e-6)


@pytest.mark.parametrize("difference", [steered_difference, towed_difference])
def test_the_linear_answer_is_wrong_by_the_third_order_of_the_angles(difference) -> None:
    """Twice the angle, eight times the difference."""
    order = np.log2(difference(radians(2.0)) / difference(radians(1.0)))
    assert order == pytest.approx(3.0, abs=0.02)


def test_the_side_force_at_the_pin_agrees_too() -> None:
    aim = radians(0.1)
    linear = straight_running(trailer(aim), hitch=0.0, road=slope(aim))
    force = nonlinear(trailer(aim), 0.0, slope(aim))[1]
    assert linear.hitch_force == pytest.approx(force, rel=1e-4)


AIM = st.floats(-0.2, 0.2).map(radians)
STIFF = st.floats(100e3, 900e3)


@settings(max_examples=60, deadline=None)
@given(
    aims=st.lists(AIM, min_size=2, max_size=5),
    stiffness=st.lists(STIFF, min_size=6, max_size=6),
    second_steers=st.booleans(),
)
def test_random_trucks_agree_within_the_cube_of_their_angles(
    aims: list[float], stiffness: list[float], second_steers: bool
) -> None:
    axles = [RunningAxle(1, 0.0, 0.0, stiffness[0], steered=True)]
    for i, aim in enumerate(aims):
        steers = second_steers and i == 0 and len(aims) > 2
        axles.append(RunningAxle(i + 2, 2.0 + 1.3 * i, aim, stiffness[i + 1], steers, 0.8))
    linear = straight_running(axles)
    crab, turn = nonlinear(axles, None, Road())
    angles = [linear.crab, *(run.slip for run in linear.axles), *aims]
    largest = max(abs(angle) for angle in angles)
    assert linear.crab == pytest.approx(crab, abs=20 * largest**3 + 1e-12)
    assert linear.turn == pytest.approx(turn, abs=20 * largest**3 + 1e-12)
