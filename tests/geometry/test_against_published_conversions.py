"""Pairs of inches and degrees that makers print, and the baseline that each pair implies.

Documents, by the short names used below:
MIC       Michelin Truck Tire Service Manual (viewer pages 51-56, 123)
VOL-NA    Volvo Trucks North America Service Bulletin 601-006 (September 2000)
DTNA-49X  Western Star 47X/49X maintenance manual, 33.04.008
EPA-78    EPA-AA-LDTP 78-12, Yurko, July 1978
DEX       Dexter 10K-15K axle alignment page
BRI-60    Bridgestone example quoted in a fleet tech tip
LAN       Landoll trailer manuals, page 4-12
The manual of a 1988 Lincoln Town Car, and a shop's article "How to check toe".
Tables without a document are computed by atan(length / baseline), to four decimals.
"""

from math import degrees, radians

import pytest

from service.geometry.conversion import (
    INCH,
    MILE,
    Toe,
    angle_from_slope,
    convert_setback,
    convert_thrust,
    convert_toe,
    length_from_thrust,
    length_from_toe,
    setback_from_skew,
    slope_from_angle,
    thrust_from_length,
    toe_from_length,
    total_toe_from_wheel,
    wheel_toe_from_total,
)
from service.geometry.length_text import parse_length
from service.geometry.toe_text import parse_toe

FOUR_DECIMALS = 0.5e-4 + 1e-9


def toe_degrees(inches: float, baseline_inches: float) -> float:
    return degrees(toe_from_length(inches * INCH, baseline_inches * INCH))


def total(text: str, baseline_inches: float) -> Toe:
    return convert_toe(*parse_toe(text, "in"), baseline=baseline_inches * INCH)


@pytest.mark.parametrize(
    ("toe", "printed", "implied", "least", "most"),
    [
        pytest.param(1 / 16, 0.08, 44.76, 42.1, 47.7, id="MIC 53 and VOL-NA: 1/16 in = 0.08 deg"),
        pytest.param(1 / 16, 0.09, 39.79, 37.7, 42.1, id="DTNA-49X: 0.09 deg for 1/16 in"),
        pytest.param(1 / 32, 0.05, 35.81, 32.6, 39.8, id="MIC 51: 1/32 in = 0.05 deg"),
    ],
)
def test_a_printed_pair_implies_its_own_baseline(
    toe: float, printed: float, implied: float, least: float, most: float
) -> None:
    """Within the range of baselines, and not beyond it, the toe rounds to the printed degrees."""
    assert toe_degrees(toe, implied) == pytest.approx(printed, abs=1e-5)
    for baseline in (least + 0.1, most - 0.1):
        assert round(toe_degrees(toe, baseline), 2) == printed
    for baseline in (least - 0.1, most + 0.1):
        assert round(toe_degrees(toe, baseline), 2) != printed


def test_the_baselines_of_one_published_manual_do_not_agree() -> None:
    """MIC 51 wants at most 39.8 in, MIC 53 at least 42.1 in: a toe without its baseline is none."""
    assert toe_degrees(1 / 16, 41) == pytest.approx(0.0873, abs=FOUR_DECIMALS)
    assert round(toe_degrees(1 / 32, 41), 2) != 0.05
    assert round(toe_degrees(1 / 16, 41), 2) != 0.08


def test_a_sixteenth_is_1_5_mm_per_metre_over_41_7_in() -> None:
    """MIC 53 (RP 642A, appendix 9, second hand): 1.5 mm/m; 40.3 to 43.1 in by its rounding."""
    assert total("1/16", 41.7).total.mm_per_m == pytest.approx(1.5, abs=0.002)
    shown = {d: round(total("1/16", d).total.mm_per_m, 1) for d in (40.2, 40.4, 43.0, 43.2)}
    assert shown == {40.2: 1.6, 40.4: 1.5, 43.0: 1.5, 43.2: 1.4}


@pytest.mark.parametrize(
    ("baseline", "agree"), [(42.0, False), (42.2, True), (43.0, True), (43.2, False)]
)
def test_the_three_figures_of_rp_642a_agree_only_for_42_1_to_43_1_in(
    baseline: float, agree: bool
) -> None:
    """MIC 53, second hand: +1/16 in is stated as 0.08 deg, 0.06 in and 1.5 mm/m together."""
    toe = total("1/16", baseline).total
    assert toe.inch is not None
    printed = (round(toe.deg, 2), f"{toe.inch:.2f}", round(toe.mm_per_m, 1))
    assert (printed == (0.08, "0.06", 1.5)) is agree


def test_a_passenger_car_manual_has_a_baseline_of_28_65_in() -> None:
    """1988 Lincoln Town Car: 1/16 in = 1/8 deg."""
    assert toe_degrees(1 / 16, 28.65) == pytest.approx(0.125, abs=FOUR_DECIMALS)


def test_half_an_inch_of_toe_is_half_a_degree_a_wheel_over_28_65_in() -> None:
    """EPA-78: 1/2 in toe is about 1/2 degree of slip for each wheel, 1 degree in all."""
    toe = total("1/2", 28.65)
    assert toe.each_wheel.deg == pytest.approx(0.5, abs=1e-4)
    assert toe.total.deg == pytest.approx(1.0, abs=2e-4)


def test_the_worked_example_of_one_wheel_reproduces() -> None:
    """Shop article: 0.15 deg over 24 in gives 0.062832 in (by the sine; the tangent agrees)."""
    assert length_from_toe(radians(0.15), 24) == pytest.approx(0.062832, abs=5e-7)


def test_four_millimetres_over_727_7_mm_are_0_31_deg() -> None:
    """Quoted on a search page, a weak source."""
    assert round(degrees(toe_from_length(4, 727.7)), 2) == 0.31


def test_camber_by_plumb_line_is_a_tenth_of_its_millimetres_on_a_rim_of_573_mm() -> None:
    """MIC 123: millimetres at the rim flange / 10 are degrees; 573 mm are 22.6 in."""
    assert degrees(thrust_from_length(0.010, 0.573)) == pytest.approx(1.0, abs=2e-4)
    assert degrees(thrust_from_length(0.0025, 0.573)) == pytest.approx(0.25, abs=2e-4)


TOE_BASELINES = {"28.65 in": 28.65, "1000 mm": 1000 / 25.4, "40 in": 40.0, "41.3 in": 41.3}
TOE_ROWS = {
    "1/64": (0.397, 0.0312, 0.0227, 0.0224, 0.0217),
    "1/32": (0.794, 0.0625, 0.0455, 0.0448, 0.0434),
    "1/16": (1.588, 0.1250, 0.0910, 0.0895, 0.0867),
    "3/32": (2.381, 0.1875, 0.1364, 0.1343, 0.1301),
    "1/8": (3.175, 0.2500, 0.1819, 0.1790, 0.1734),
    "3/16": (4.763, 0.3750, 0.2729, 0.2686, 0.2601),
    "1/4": (6.350, 0.5000, 0.3638, 0.3581, 0.3468),
}


@pytest.mark.parametrize("text", TOE_ROWS)
def test_a_toe_in_inches_is_the_millimetres_and_degrees_of_the_table(text: str) -> None:
    millimetres, *row = TOE_ROWS[text]
    assert parse_length(text, "in") * 1000 == pytest.approx(millimetres, abs=0.00051)
    computed = [total(text, baseline).total.deg for baseline in TOE_BASELINES.values()]
    assert computed == pytest.approx(row, abs=FOUR_DECIMALS)


@pytest.mark.parametrize(
    ("mm_per_m", "degree"),
    [(0.5, 0.0286), (1.0, 0.0573), (1.5, 0.0859), (2.0, 0.1146), (2.3, 0.1318), (3.0, 0.1719)],
)
def test_a_slope_is_the_degrees_of_the_table(mm_per_m: float, degree: float) -> None:
    toe = convert_toe(*parse_toe(f"{mm_per_m} mm/m", "in"))
    assert toe.total.deg == pytest.approx(degree, abs=FOUR_DECIMALS)


@pytest.mark.parametrize(
    ("degree", "mm_per_m"),
    [
        (0.05, 0.873), (0.08, 1.396), (0.09, 1.571), (0.10, 1.745), (0.18, 3.142), (0.25, 4.363),
        (0.50, 8.727), (1.00, 17.455),
    ],
)  # fmt: skip
def test_an_angle_is_the_slope_of_the_table(degree: float, mm_per_m: float) -> None:
    toe = convert_toe(*parse_toe(f"{degree}°", "in"))
    assert toe.total.mm_per_m == pytest.approx(mm_per_m, abs=0.0005)


def test_a_degree_is_17_455_mm_per_metre_and_a_mm_per_metre_0_0573_deg() -> None:
    assert slope_from_angle(radians(1)) == pytest.approx(0.0174551, abs=5e-8)
    assert degrees(angle_from_slope(0.001)) == pytest.approx(0.05730, abs=5e-6)


SPANS = (33.5, 71.0, 71.5, 77.5, 78.0, 100.0)
SPAN_ROWS = {
    "1/32": (0.0534, 0.0252, 0.0250, 0.0231, 0.0230, 0.0179),
    "1/16": (0.1069, 0.0504, 0.0501, 0.0462, 0.0459, 0.0358),
    "1/8": (0.2138, 0.1009, 0.1002, 0.0924, 0.0918, 0.0716),
    "3/16": (0.3207, 0.1513, 0.1503, 0.1386, 0.1377, 0.1074),
    "1/4": (0.4276, 0.2017, 0.2003, 0.1848, 0.1836, 0.1432),
}


@pytest.mark.parametrize("text", SPAN_ROWS)
def test_inches_over_a_span_are_the_degrees_of_the_table_as_thrust_and_as_skew(text: str) -> None:
    """The table's tangent and a setback's sine differ by less than its fourth decimal shows."""
    inches = parse_length(text, "in")
    thrusts = [convert_thrust("length", inches, span * INCH).thrust.deg for span in SPANS]
    skews = [convert_setback("setback", inches, span * INCH).skew_deg for span in SPANS]
    assert thrusts == pytest.approx(SPAN_ROWS[text], abs=FOUR_DECIMALS)
    assert skews == pytest.approx(SPAN_ROWS[text], abs=FOUR_DECIMALS)


def test_an_eighth_side_to_side_is_a_tenth_of_a_degree_over_71_62_in() -> None:
    """DEX ("0.1 degree or 1/8") and MIC 55; on a 102 in wide trailer's 77.5 in it is less."""
    eighth = parse_length("1/8", "in")
    assert degrees(thrust_from_length(eighth, 71.62 * INCH)) == pytest.approx(0.1, abs=1e-5)
    assert degrees(thrust_from_length(eighth, 71.5 * INCH)) == pytest.approx(0.1002, abs=5e-5)
    assert degrees(thrust_from_length(eighth, 77.5 * INCH)) == pytest.approx(0.0924, abs=5e-5)


def test_the_trailer_limit_in_inches_is_twice_as_tight_as_a_tenth_of_a_degree() -> None:
    """1/16 in, axle to axle (TTMA RP 71 by MIC 56, second hand), over a 71.5 in track."""
    sixteenth = parse_length("1/16", "in")
    assert degrees(thrust_from_length(sixteenth, 71.5 * INCH)) == pytest.approx(0.0501, abs=5e-5)


@pytest.mark.parametrize(
    ("degree", "span", "inches"),
    [(0.08, 71.5, 0.0998), (0.18, 71.5, 0.2246), (0.18, 79.6, 0.25), (0.18, 39.8, 0.125)],
)
def test_the_degrees_of_dtna_49x_are_these_inches(
    degree: float, span: float, inches: float
) -> None:
    """Scrub 0.08 deg and rear drive thrust 0.18 deg are published, the inches computed."""
    assert length_from_thrust(radians(degree), span) == pytest.approx(inches, abs=1e-4)


def test_two_inches_over_a_wheelbase_of_181_in_are_58_ft_sideways_a_mile() -> None:
    """BRI-60 prints "about 60" ft a mile and 1 100 miles a year of 100 000 miles."""
    thrust = convert_thrust("length", 2 * INCH, over=181 * INCH).thrust
    assert thrust.deg == pytest.approx(0.6331, abs=5e-5)
    sideways = length_from_thrust(radians(thrust.deg), MILE)
    assert sideways / INCH / 12 == pytest.approx(58.34, abs=0.005)
    assert sideways / MILE * 100_000 == pytest.approx(1105, abs=0.5)


def test_16_feet_a_mile_are_an_eighth_over_a_tyre_of_41_3_in() -> None:
    """LAN holds a scuff-gauge reading of 16 ft a mile or less satisfactory."""
    assert degrees(thrust_from_length(16, 5280)) == pytest.approx(0.1736, abs=5e-5)
    toe = total("1/8", 41.3).total
    assert toe.deg == pytest.approx(0.1734, abs=5e-5)
    assert length_from_thrust(radians(toe.deg), 5280) == pytest.approx(15.98, abs=0.005)


@pytest.mark.parametrize(
    ("degree", "feet"), [(1, 92.15), (0.1, 9.215), (0.18, 16.59), (0.25, 23.04), (0.5, 46.08)]
)
def test_a_degree_drags_a_wheel_92_feet_a_mile(degree: float, feet: float) -> None:
    """Along the path travelled, so by the sine; computed, to four digits."""
    assert float(f"{setback_from_skew(radians(degree), 5280):.4g}") == feet


def test_a_degree_drags_a_wheel_17_45_metres_a_kilometre() -> None:
    assert setback_from_skew(radians(1), 1000) == pytest.approx(17.45, abs=0.005)


def test_total_and_per_wheel_toe_are_sums_of_angles() -> None:
    """ISO 8855:2011, 7.1.7: total static toe is the sum of the static toe angles of one axle."""
    assert wheel_toe_from_total(radians(0.18)) == radians(0.09)
    assert total_toe_from_wheel(radians(0.09)) == radians(0.18)
