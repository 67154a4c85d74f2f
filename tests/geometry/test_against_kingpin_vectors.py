"""Squareness of a trailer axle from its kingpin, against figures worked by hand.

The figures follow from Pythagoras, D_R^2 - D_L^2 = 4 L w sin(th) - 4 w e cos(th), with L = 480 in
from kingpin to axle, w = 35.75 in (half of a 71.5 in track) and e the offset to the left; they are
computed, not published, and printed to 1e-4 in. Offsets of 1/4 in are what Dexter (10K-15K axle
alignment page) and Western Star (47X/49X manual 33.04.008) allow. An army trailer manual
(TM 5-2330-325-13&P) says that half the difference squares the axle.
"""

import math

import pytest
from simulator import Axle, Reading, Vehicle, read
from simulator.bridge import answers, solved_readings

INCH = 0.0254
LENGTH, HALF = 480 * INCH, 35.75 * INCH
PLACES = 6e-5 * INCH
"""Half of the last printed place of a tape reading, and a little."""


def spans(left: float, right: float) -> Reading:
    """Kingpin spans in inches."""
    return {
        "kind": "kingpin_span",
        "axle": 1,
        "left": left * INCH,
        "right": right * INCH,
        "spread": 2 * HALF,
        "uncertainty": INCH / 64,
    }


def gaps(offset_right: float) -> Reading:
    """Frame gaps in inches of an axle that stands this far to the right."""
    left, right = 30 - offset_right, 30 + offset_right
    return {
        "kind": "frame_gap",
        "axle": 1,
        "left": left * INCH,
        "right": right * INCH,
        "uncertainty": INCH / 64,
    }


def told(*readings: Reading) -> dict[str, tuple[float, float]]:
    vehicle = Vehicle("trailer", [Axle(1, "trailer", LENGTH)])
    found = answers(solved_readings(vehicle, list(readings)))
    return {name: estimate for (name, _), estimate in found.items()}


def degrees(estimate: tuple[float, float]) -> float:
    return math.degrees(estimate[0])


SQUARE_OFF = (481.2672, 481.3917)
"""Aims 0.1 degree right, stands centred."""
OFF_CENTRE = (481.3481, 481.3110)
"""Aims straight, stands 1/4 in to the left."""


def test_the_general_formula_holds_for_any_axle() -> None:
    for offset_left, aim in ((0.0, 0.002), (0.01, 0.0), (-0.03, 0.02), (0.006, -0.004)):
        vehicle = Vehicle("trailer", [Axle(1, "trailer", LENGTH, -offset_left, aim)])
        shown = read(vehicle, {"kind": "kingpin_span", "axle": 1, "spread": 2 * HALF})
        squares = shown["right"] ** 2 - shown["left"] ** 2
        formula = 4 * HALF * (LENGTH * math.sin(aim) - offset_left * math.cos(aim))
        assert squares == pytest.approx(formula, abs=1e-10)
        gap = read(vehicle, {"kind": "frame_gap", "axle": 1})
        assert told(shown, gap)["thrust"][0] == pytest.approx(aim, abs=1e-11)


def test_a_centred_axle_that_aims_a_tenth_of_a_degree_right_reads_right() -> None:
    answer = told(spans(*SQUARE_OFF), gaps(0.0))
    assert degrees(answer["thrust"]) == pytest.approx(0.1, abs=1e-4)
    assert answer["kingpin_difference"][0] == pytest.approx(0.1244 * INCH, abs=2 * PLACES)


def test_an_off_centre_axle_read_from_the_kingpin_alone_reads_falsely() -> None:
    answer = told(spans(*OFF_CENTRE))
    assert degrees(answer["thrust"]) == pytest.approx(-0.030, abs=5e-4)
    assert answer["kingpin_difference"][0] == pytest.approx(-0.0371 * INCH, abs=2 * PLACES)


def test_the_false_reading_lies_within_the_uncertainty_that_comes_with_it() -> None:
    value, u = told(spans(*OFF_CENTRE))["thrust"]
    assert abs(value) < 2 * u
    assert math.degrees(u) > 0.029  # 1/4 in of unread centring over 480 in is 0.0298 degree


def test_the_frame_gap_cures_the_false_reading() -> None:
    answer = told(spans(*OFF_CENTRE), gaps(-0.25))
    assert degrees(answer["thrust"]) == pytest.approx(0.0, abs=1e-4)
    assert answer["offset"][0] == pytest.approx(-0.25 * INCH, abs=1e-9)


def test_offset_hides_part_of_a_real_error() -> None:
    # Worked: aim 0.1 degree right and 1/4 in to the left differ by 0.0873 in only.
    vehicle = Vehicle("trailer", [Axle(1, "trailer", LENGTH, -0.25 * INCH, math.radians(0.1))])
    shown = read(vehicle, {"kind": "kingpin_span", "axle": 1, "spread": 2 * HALF})
    assert shown["right"] - shown["left"] == pytest.approx(0.0873 * INCH, abs=PLACES)
    assert degrees(told(shown)["thrust"]) == pytest.approx(0.070, abs=5e-4)
    assert degrees(told(shown, gaps(-0.25))["thrust"]) == pytest.approx(0.1, abs=1e-9)


def test_the_small_angle_shortcut_is_a_third_of_a_percent_low() -> None:
    left, right = SQUARE_OFF
    shortcut = math.degrees(math.atan((right - left) / 71.5))
    assert shortcut == pytest.approx(0.0997, abs=1e-4)
    exact = degrees(told(spans(left, right), gaps(0.0))["thrust"])
    assert shortcut / exact == pytest.approx(480 / math.hypot(480, 35.75), abs=1e-5)


def test_a_tenth_of_a_degree_puts_the_tail_0_84_inch_aside() -> None:
    answer = told(spans(*SQUARE_OFF), gaps(0.0))
    assert answer["thrust_difference"][0] / 2 == pytest.approx(0.84 * INCH, abs=0.005 * INCH)


def test_half_the_difference_at_both_ends_squares_the_axle() -> None:
    # Turned about its centre, each end moves half: the right end forward, the left rearward.
    left, right = SQUARE_OFF
    half = (right - left) / 2
    turned = degrees(told(spans(left + half, right - half), gaps(0.0))["thrust"])
    assert turned == pytest.approx(0.0, abs=1e-9)
