"""Straight running against worked numbers.

The tandem vectors (marked V2 to V9 here) are derived from force and moment balance by hand, with
angles positive to the left and the crab angle taken from the frame to its path; the formula of
the equivalent wheelbase is believed to be that of Winkler, Vehicle System Dynamics 29(3) 1998.
Here everything is positive to the right, and the crab angle is the frame's heading against its
path: p(left) = -thrust, b(left) = crab, d(left) = -steer.
"""

from math import atan, degrees, radians

import pytest

from service.geometry.running import (
    KILOMETRE,
    MILE,
    equivalent_wheelbase,
    sideways_distance,
    straight_running,
)
from service.geometry.stance import RunningAxle

INCH = 0.0254
FOOT = 12 * INCH
WHEELBASE = 200 * INCH
HALF_SPREAD = 26 * INCH


def truck(forward_aim_left: float, rear_aim_left: float, drive: float = 4.0, front: float = 2.0):
    """Wheelbase 200 in to mid-tandem, spread 52 in; aims in degrees to the left (V2 to V9)."""
    return [
        RunningAxle(1, 0.0, 0.0, front, steered=True),
        RunningAxle(2, WHEELBASE - HALF_SPREAD, radians(-forward_aim_left), drive),
        RunningAxle(3, WHEELBASE + HALF_SPREAD, radians(-rear_aim_left), drive),
    ]


@pytest.mark.parametrize(("rear_over_front", "inches"), [(4.0, 216.90), (2.0, 210.14)])
def test_a_tandem_turns_like_a_longer_two_axle_truck(rear_over_front: float, inches: float) -> None:
    """V3: L 200, s 26, Cr/Cf 4 gives 216.90 in; Cr/Cf 2 gives 210.14 in."""
    axles = truck(0.0, 0.0, drive=rear_over_front / 2, front=1.0)
    assert equivalent_wheelbase(axles) / INCH == pytest.approx(inches, abs=0.005)


def test_the_equivalent_wheelbase_follows_the_tandem_formula_exactly() -> None:
    """V2: L + (s^2 / L)(1 + Cr / Cf)."""
    axles = truck(0.0, 0.0, drive=3.7, front=1.9)
    formula = WHEELBASE + HALF_SPREAD**2 / WHEELBASE * (1 + 2 * 3.7 / 1.9)
    assert equivalent_wheelbase(axles) == pytest.approx(formula, rel=1e-14)


@pytest.mark.parametrize(
    ("forward", "rear", "crab", "steer"),
    [
        pytest.param(0.1, 0.1, 0.1, 0.1, id="V6 pure thrust"),
        pytest.param(0.05, -0.05, -0.0065, -0.0325, id="V7 pure scrub"),
        pytest.param(0.1, 0.0, 0.0435, 0.0175, id="V8 only the forward drive axle"),
        pytest.param(0.0, 0.1, 0.0565, 0.0825, id="V9 only the rear drive axle"),
    ],
)
def test_a_misaligned_tandem_crabs_and_steers_as_worked_by_hand(
    forward: float, rear: float, crab: float, steer: float
) -> None:
    """V6 to V9, degrees to the left, printed to four decimals."""
    running = straight_running(truck(forward, rear))
    assert degrees(running.crab) == pytest.approx(crab, abs=5e-5)
    assert running.steer is not None
    assert -degrees(running.steer) == pytest.approx(steer, abs=5e-5)


def test_pure_thrust_drags_no_tyre_sideways() -> None:
    """V6: the whole frame turns until every axle runs true."""
    running = straight_running(truck(0.1, 0.1))
    assert [axle.side_force for axle in running.axles] == pytest.approx([0.0] * 3, abs=1e-15)


def test_the_closed_form_of_the_tandem_is_met_to_rounding() -> None:
    """V5: F = -C s (p1 - p2) / L; b = (p1 + p2) / 2 + F / (2 C); d = b + F / Cf."""
    drive, front, p1, p2 = 3.1, 2.3, 0.13, -0.04
    force = -drive * HALF_SPREAD * (p1 - p2) / WHEELBASE
    crab = (p1 + p2) / 2 + force / (2 * drive)
    running = straight_running(truck(p1, p2, drive, front))
    assert degrees(running.crab) == pytest.approx(crab, abs=1e-14)
    assert running.steer is not None
    assert -degrees(running.steer) == pytest.approx(crab + force / front, abs=1e-14)
    assert -degrees(running.axles[0].side_force) == pytest.approx(force, abs=1e-14)


def test_scrub_pulls_toward_the_side_where_the_axle_ends_are_closer() -> None:
    """Michelin Truck Tire Service Manual: left ends closer together, the vehicle drifts left.

    Left ends closer: the forward axle aims left and the rear one right, so the driver holds right.
    """
    running = straight_running(truck(0.05, -0.05))
    assert running.steer is not None
    assert running.steer > 0.0


def test_two_inches_over_a_181_inch_wheelbase_drag_58_feet_in_a_mile() -> None:
    """W1: a tyre maker (Bridgestone) prints "about 60" ft; 2/181 x 5280 = 58.34."""
    feet = sideways_distance(atan(2 / 181), MILE) / FOOT
    assert feet == pytest.approx(58.34, abs=0.01)
    assert round(feet, -1) == 60


def test_two_inches_over_a_181_inch_wheelbase_are_1100_miles_a_year() -> None:
    """W1: "about 1 100 miles" in 100 000 miles; computed 1105."""
    miles = sideways_distance(atan(2 / 181), 100_000 * MILE) / MILE
    assert miles == pytest.approx(1105, abs=0.5)


def test_sixteen_feet_in_a_mile_are_0_1736_degrees() -> None:
    """W4: a trailer maker (Landoll 302D-B manual) holds 16 ft per mile or less satisfactory."""
    assert sideways_distance(radians(0.1736), MILE) / FOOT == pytest.approx(16.0, abs=0.005)


@pytest.mark.parametrize(
    ("angle", "feet"),
    [(1.0, 92.15), (0.1, 9.215), (0.18, 16.59), (0.25, 23.04), (0.5, 46.08)],
)
def test_sideways_feet_per_mile_go_by_the_sine(angle: float, feet: float) -> None:
    """W5: 5280 sin(angle), computed."""
    assert sideways_distance(radians(angle), MILE) / FOOT == pytest.approx(feet, abs=0.005)


def test_one_degree_drags_17_45_metres_in_a_kilometre() -> None:
    """W5, computed."""
    assert sideways_distance(radians(1.0), KILOMETRE) == pytest.approx(17.45, abs=0.005)


def test_drag_is_stiffness_times_the_square_of_the_slip() -> None:
    """V12, textbook (from memory): side force C a, drag C a^2, at small angles."""
    running = straight_running(truck(0.05, -0.05))
    drag = sum(
        given.stiffness * run.slip**2
        for given, run in zip(truck(0.05, -0.05), running.axles, strict=True)
    )
    assert running.drag_force == pytest.approx(drag, rel=1e-14)
