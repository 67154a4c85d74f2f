"""Conversions are exact, return to where they came from, and name the field that cannot be."""

from collections.abc import Callable
from math import atan, degrees, inf, isclose, nan, pi, radians, tan

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.geometry.conversion import (
    ConversionError,
    angle_from_slope,
    convert_centring,
    convert_length,
    convert_setback,
    convert_thrust,
    convert_toe,
    difference_from_offset,
    difference_from_thrust,
    length_from_thrust,
    length_from_toe,
    offset_from_difference,
    setback_from_skew,
    skew_from_setback,
    slope_from_angle,
    thrust_from_difference,
    thrust_from_length,
    toe_from_length,
    total_toe_from_wheel,
    wheel_toe_from_total,
)
from service.geometry.length_text import parse_length
from service.geometry.toe_text import parse_toe

INCH = 0.0254
small_lengths = st.floats(1e-6, 0.5) | st.floats(-0.5, -1e-6)
baselines = st.floats(0.2, 30)
small_angles = st.floats(1e-6, 0.8) | st.floats(-0.8, -1e-6)


def same(a: float, b: float) -> bool:
    return isclose(a, b, rel_tol=1e-12)


@given(small_lengths, baselines)
def test_a_toe_in_length_returns_to_itself(length: float, baseline: float) -> None:
    assert same(length_from_toe(toe_from_length(length, baseline), baseline), length)


@given(small_angles, baselines)
def test_a_toe_in_degrees_returns_to_itself(toe: float, baseline: float) -> None:
    assert same(toe_from_length(length_from_toe(toe, baseline), baseline), toe)


@given(small_angles)
def test_a_slope_returns_to_its_angle(angle: float) -> None:
    assert same(angle_from_slope(slope_from_angle(angle)), angle)
    assert same(slope_from_angle(angle_from_slope(angle)), angle)


@given(small_lengths, baselines)
def test_a_thrust_returns_to_its_length_and_to_its_difference(length: float, over: float) -> None:
    assert same(length_from_thrust(thrust_from_length(length, over), over), length)
    assert same(difference_from_thrust(thrust_from_difference(length, over), over), length)


@given(small_lengths)
def test_an_offset_returns_to_its_difference(length: float) -> None:
    assert difference_from_offset(offset_from_difference(length)) == length
    assert wheel_toe_from_total(total_toe_from_wheel(length)) == length


@given(st.floats(1e-6, 0.99) | st.floats(-0.99, -1e-6), baselines)
def test_a_setback_returns_to_itself(share: float, spread: float) -> None:
    setback = share * spread
    assert same(setback_from_skew(skew_from_setback(setback, spread), spread), setback)


@given(small_angles, baselines)
def test_a_skew_returns_to_itself(skew: float, spread: float) -> None:
    assert same(skew_from_setback(setback_from_skew(skew, spread), spread), skew)


def test_the_tangent_of_a_toe_is_its_length_over_its_baseline() -> None:
    toe = convert_toe(*parse_toe("1/16", "in"), baseline=parse_length("40.2", "in"))
    assert toe.total.inch == 0.0625
    assert toe.total.mm == 1.5875
    assert same(toe.total.deg, degrees(atan(0.0625 / 40.2)))
    assert same(toe.total.mm_per_m, 62.5 / 40.2)
    assert toe.baseline is not None
    assert (toe.baseline.inch, toe.baseline.mm) == (40.2, 1021.08)


def test_each_wheel_has_half_the_angle_of_the_total_and_the_length_of_that_angle() -> None:
    toe = convert_toe("angle", radians(2), baseline=1.0)
    assert toe.total.deg == 2.0
    assert toe.each_wheel.deg == 1.0
    assert toe.each_wheel.mm is not None
    assert same(toe.each_wheel.mm, 1000 * tan(radians(1)))
    assert same(toe.each_wheel.mm_per_m, 1000 * tan(radians(1)))
    assert toe.total.mm is not None
    assert toe.each_wheel.mm < toe.total.mm / 2


def test_a_toe_of_one_wheel_counts_double_in_the_total() -> None:
    assert convert_toe("angle", radians(1), 1.0, one_wheel=True) == convert_toe(
        "angle", radians(2), 1.0
    )


@given(small_lengths, baselines)
def test_one_wheels_length_returns_to_itself_by_way_of_the_total(
    length: float, baseline: float
) -> None:
    wheel = convert_toe("length", length / 4, baseline, one_wheel=True).each_wheel
    assert wheel.mm is not None
    assert same(wheel.mm, length * 250)


@pytest.mark.parametrize(("kind", "value"), [("angle", radians(0.09)), ("slope", 0.0015)])
def test_an_angle_or_a_slope_needs_no_baseline_and_then_has_no_length(
    kind: str, value: float
) -> None:
    toe = convert_toe(kind, value)  # type: ignore[arg-type]
    assert toe.total.inch is toe.total.mm is toe.each_wheel.inch is toe.baseline is None
    thrust = convert_thrust(kind, value)  # type: ignore[arg-type]
    assert thrust.thrust == toe.total
    assert thrust.difference is thrust.over is None


def test_a_thrust_reads_as_twice_its_length_side_to_side() -> None:
    thrust = convert_thrust("length", INCH / 8, over=INCH * 187.5)
    assert thrust.thrust.inch == 0.125
    assert thrust.difference is not None
    assert thrust.difference.inch == 0.25
    assert convert_thrust("difference", INCH / 4, over=INCH * 187.5) == thrust


def test_a_difference_is_twice_an_offset() -> None:
    centring = convert_centring("difference", INCH / 4)
    assert (centring.offset.inch, centring.difference.inch) == (0.125, 0.25)
    assert convert_centring("offset", INCH / 8) == centring


def test_a_setback_is_its_spread_times_the_sine_of_the_skew() -> None:
    setback = convert_setback("setback", INCH / 16, INCH * 33.5)
    assert setback.setback.inch == 0.0625
    assert setback.spread.inch == 33.5
    assert convert_setback("skew", radians(30), 2.0).setback.m == 1.0


@pytest.mark.parametrize(
    ("text", "expected"),
    [("1 in", (1, 1 / 12, 25.4, 2.54, 0.0254)), ("1 ft", (12, 1, 304.8, 30.48, 0.3048)),
     ("1 m", (39.3700787401575, 3.28083989501312, 1000, 100, 1))],
)  # fmt: skip
def test_a_length_is_listed_in_every_unit(text: str, expected: tuple[float, ...]) -> None:
    """39.3700787401575 in and 3.28083989501312 ft a metre are 1/0.0254 and 1/0.3048."""
    assert all(map(same, convert_length(parse_length(text, "in")), expected))


def test_every_64th_of_an_inch_up_to_33_feet_is_listed_as_itself() -> None:
    for step in range(64 * 400):
        whole, part = divmod(step, 64)
        assert convert_length(parse_length(f"{whole} {part}/64", "in")).inch == step / 64


def test_every_tenth_of_a_millimetre_up_to_2_metres_is_listed_as_itself() -> None:
    for step in range(20_000):
        text = f"{step // 10}.{step % 10}"
        assert convert_length(parse_length(text, "mm")).mm == float(text)


@pytest.mark.parametrize(
    ("convert", "field", "hint"),
    [
        (lambda: toe_from_length(0.001, 0), "baseline", "length greater than 0"),
        (lambda: toe_from_length(0.001, -1), "baseline", "length greater than 0"),
        (lambda: toe_from_length(0.001, nan), "baseline", "length greater than 0"),
        (lambda: toe_from_length(0.001, inf), "baseline", "length greater than 0"),
        (lambda: toe_from_length(1.0, 1e-300), "baseline", "length that the value is stated over"),
        (lambda: toe_from_length(nan, 1.0), "value", "finite number"),
        (lambda: length_from_toe(pi / 2, 1.0), "value", "between -90 and 90"),
        (lambda: length_from_toe(-2.0, 1.0), "value", "between -90 and 90"),
        (lambda: length_from_toe(nan, 1.0), "value", "between -90 and 90"),
        (lambda: slope_from_angle(pi / 2), "value", "between -90 and 90"),
        (lambda: angle_from_slope(inf), "value", "finite number"),
        (lambda: wheel_toe_from_total(inf), "value", "finite number"),
        (lambda: total_toe_from_wheel(nan), "value", "finite number"),
        (lambda: thrust_from_length(0.1, 0.0), "over", "length greater than 0"),
        (lambda: length_from_thrust(0.1, -0.0), "over", "length greater than 0"),
        (lambda: offset_from_difference(nan), "value", "finite number"),
        (lambda: difference_from_offset(-inf), "value", "finite number"),
        (lambda: skew_from_setback(1.1, 1.0), "value", "smaller than its spread"),
        (lambda: skew_from_setback(-1.0, 1.0), "value", "smaller than its spread"),
        (lambda: skew_from_setback(0.1, 0.0), "spread", "length greater than 0"),
        (lambda: setback_from_skew(pi / 2, 1.0), "value", "between -90 and 90"),
        (lambda: setback_from_skew(0.1, nan), "spread", "length greater than 0"),
        (lambda: convert_toe("length", 0.001), "baseline", "give `baseline`"),
        (lambda: convert_toe("angle", 0.001, 0.0), "baseline", "length greater than 0"),
        (lambda: convert_toe("angle", 1.0, one_wheel=True), "value", "between -90 and 90"),
        (lambda: convert_toe("angle", 1.5, 1e308), "value", "smaller value"),
        (lambda: convert_thrust("length", 0.001), "over", "give `over`"),
        (lambda: convert_thrust("difference", 0.001), "over", "give `over`"),
        (lambda: convert_thrust("difference", nan, 1.0), "value", "finite number"),
        (lambda: convert_centring("offset", nan), "value", "finite number"),
        (lambda: convert_centring("offset", 1e308), "value", "smaller value"),
        (lambda: convert_length(inf), "value", "finite number"),
        (lambda: convert_setback("skew", nan, 1.0), "value", "between -90 and 90"),
    ],
)
def test_what_cannot_be_converted_is_named_with_what_may_stand(
    convert: Callable[[], object], field: str, hint: str
) -> None:
    with pytest.raises(ConversionError) as refused:
        convert()
    assert refused.value.field == field
    assert hint in refused.value.hint
    assert str(refused.value) == f"{field} {refused.value.reason}: {refused.value.hint}"
