"""Reference: pint's unit registry, for every unit that a text may carry and a listing shows."""

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.geometry.angle_text import parse_angle
from service.geometry.conversion import FOOT, INCH, MILE, convert_length
from service.geometry.length_text import parse_length
from service.geometry.toe_text import parse_toe

UNITS = pint.UnitRegistry()
decimals = st.decimals(0, 90, places=3).map(str)


def by_pint(number: str, unit: str, into: str) -> float:
    return float(UNITS.Quantity(float(number), unit).to(into).magnitude)


@pytest.mark.parametrize(
    ("spelled", "unit"),
    [("in", "inch"), ("ft", "foot"), ("mm", "millimeter"), ("cm", "centimeter"), ("m", "meter"),
     ('"', "inch"), ("'", "foot"), ("feet", "foot"), ("inches", "inch")],
)  # fmt: skip
@given(number=decimals)
def test_a_length_in_metres_is_pints(spelled: str, unit: str, number: str) -> None:
    expected = by_pint(number, unit, "meter")
    assert parse_length(f"{number} {spelled}", "in") == pytest.approx(expected, rel=1e-14)


@given(feet=st.integers(0, 300), inches=st.integers(0, 11))
def test_feet_and_inches_add_up_as_in_pint(feet: int, inches: int) -> None:
    expected = (UNITS.Quantity(feet, "foot") + UNITS.Quantity(inches, "inch")).to("meter")
    assert parse_length(f"{feet}' {inches}\"", "mm") == pytest.approx(expected.magnitude, rel=1e-14)


@given(number=decimals)
def test_decimal_degrees_are_pints(number: str) -> None:
    expected = by_pint(number, "degree", "radian")
    assert parse_angle(f"{number}°") == pytest.approx(expected, rel=1e-14)
    assert parse_toe(f"{number} deg", "in")[1] == pytest.approx(expected, rel=1e-14)


@given(degrees=st.integers(0, 359), minutes=st.integers(0, 59), seconds=st.integers(0, 59))
def test_degrees_minutes_and_seconds_are_pints(degrees: int, minutes: int, seconds: int) -> None:
    expected = (
        UNITS.Quantity(degrees, "degree")
        + UNITS.Quantity(minutes, "arcminute")
        + UNITS.Quantity(seconds, "arcsecond")
    ).to("radian")
    angle = parse_angle(f"{degrees}°{minutes}'{seconds}\"")
    assert angle == pytest.approx(expected.magnitude, rel=1e-14)


@given(number=decimals)
def test_a_slope_is_pints_millimetre_per_metre(number: str) -> None:
    expected = by_pint(number, "millimeter / meter", "dimensionless")
    assert parse_toe(f"{number} mm/m", "in") == ("slope", pytest.approx(expected, rel=1e-14))


@given(metres=st.floats(0.001, 100))
def test_a_listing_of_lengths_is_pints(metres: float) -> None:
    units = ("inch", "foot", "millimeter", "centimeter", "meter")
    expected = [UNITS.Quantity(metres, "meter").to(unit).magnitude for unit in units]
    assert list(convert_length(metres)) == pytest.approx(expected, rel=1e-14)


def test_the_constants_are_pints() -> None:
    assert by_pint("1", "inch", "meter") == INCH
    assert by_pint("1", "foot", "meter") == pytest.approx(FOOT, rel=1e-15)
    assert by_pint("1", "mile", "meter") == pytest.approx(MILE, rel=1e-15)
