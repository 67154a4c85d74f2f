"""Caster from a sweep, against figures worked by hand.

For equal turns left and right a kingpin that leans back by a small caster angle changes camber by
2 sin(turn) times that angle. The straight-line shortcut, caster = change / (2 turn), is in common
use (quoted in an engine-tuning forum), and so is "multiply by 1.5" for 20 degree turns (common
practice, no source). All figures are computed from these formulas.
"""

import math

import pytest
from simulator import Axle, Reading, Vehicle
from simulator.bridge import answers, solved_readings

TWENTY = math.radians(20)


def caster(change: float, side: str = "left", turn: float = TWENTY) -> float:
    """Solved caster in degrees of a wheel whose camber changes so many degrees, left to right."""
    reading: Reading = {
        "kind": "caster_sweep",
        "axle": 1,
        "side": side,
        "turn": turn,
        "camber_left_turn": math.radians(0.2 + change / 2),
        "camber_right_turn": math.radians(0.2 - change / 2),
    }
    found = answers(solved_readings(Vehicle("truck", [Axle(1, "steer", 0.0)]), [reading]))
    return math.degrees(found[f"caster_{side}", 1][0])


def test_the_factor_of_a_twenty_degree_sweep_is_1_4619() -> None:
    assert caster(1.0) == pytest.approx(1.4619, abs=5e-5)


def test_the_straight_line_shortcut_would_give_1_4324() -> None:
    shortcut = math.degrees(1.0) / 40.0
    assert shortcut == pytest.approx(1.4324, abs=5e-5)
    assert caster(1.0) / shortcut == pytest.approx(TWENTY / math.sin(TWENTY), abs=1e-12)


def test_shortcut_and_solution_meet_at_small_turns() -> None:
    turn = math.radians(0.5)
    shortcut = math.degrees(1.0) / 1.0
    assert caster(1.0, turn=turn) == pytest.approx(shortcut, rel=2e-5)


def test_the_shop_rule_of_one_and_a_half_is_2_6_percent_high() -> None:
    assert 1.5 / caster(1.0) - 1 == pytest.approx(0.026, abs=5e-4)


def test_a_change_of_2_7362_degrees_is_four_degrees_of_caster() -> None:
    # Half of the last printed place, 5e-5, grows by the factor.
    assert caster(2.7362) == pytest.approx(4.000, abs=7.5e-5)
    assert pytest.approx(4.104, abs=5e-4) == 1.5 * 2.7362


def test_the_right_wheel_gains_camber_in_a_right_turn() -> None:
    assert caster(-2.7362, side="right") == pytest.approx(4.000, abs=7.5e-5)


def test_cross_caster_is_right_less_left() -> None:
    readings: list[Reading] = [
        {"kind": "wheel_angle", "axle": 1, "side": side, "caster": math.radians(value)}
        for side, value in (("left", 3.5), ("right", 4.0))
    ]
    found = answers(solved_readings(Vehicle("truck", [Axle(1, "steer", 0.0)]), readings))
    assert math.degrees(found["cross_caster", 1][0]) == pytest.approx(0.5, abs=1e-12)
