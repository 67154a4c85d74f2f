"""Toe texts: the mark tells a length over a baseline from an angle and from a slope."""

from math import radians

import pytest

from service.geometry.quantity import QuantityError
from service.geometry.toe_text import parse_toe


@pytest.mark.parametrize(
    ("text", "unit", "metres"),
    [
        ("1/16", "in", 0.0015875),
        ("1/16 in", "mm", 0.0015875),
        ('1/16"', "mm", 0.0015875),
        ("1.5875", "mm", 0.0015875),
        ("0.15875 cm", "in", 0.0015875),
        ("0.0015875 m", "in", 0.0015875),
        ("1/16 in", "deg", 0.0015875),
        ("-1/32", "in", -0.00079375),
        ("−1/32 inch", "mm/m", -0.00079375),
        ("0", "in", 0.0),
    ],
)
def test_a_toe_without_an_angle_mark_is_a_length(text: str, unit: str, metres: float) -> None:
    assert parse_toe(text, unit) == ("length", metres)


@pytest.mark.parametrize(
    ("text", "degrees"),
    [
        ("0.09°", 0.09),
        ("0.09 deg", 0.09),
        ("-0.25 degrees", -0.25),
        ("0°15'", 0.25),
        ("-0°15'", -0.25),
        ("0 deg 15 min", 0.25),
        ("0°15'0\"", 0.25),
        ("1/8°", 0.125),
    ],
)
def test_a_toe_with_a_degree_mark_is_an_angle_whatever_the_unit(text: str, degrees: float) -> None:
    for unit in ("in", "mm", "cm", "deg", "mm/m"):
        assert parse_toe(text, unit) == ("angle", radians(degrees))


@pytest.mark.parametrize("text", ["1.5 mm/m", "1.5mm/m", "1.5 mm / m", "1 1/2 MM/M", "+1.5 mm⁄m"])
def test_a_toe_in_millimetres_per_metre_is_a_slope(text: str) -> None:
    for unit in ("in", "mm", "cm", "deg", "mm/m"):
        assert parse_toe(text, unit) == ("slope", 0.0015)


def test_a_bare_number_is_what_the_unit_says() -> None:
    assert parse_toe("-1.5", "mm/m") == ("slope", -0.0015)
    assert parse_toe("0.09", "deg") == ("angle", radians(0.09))
    assert parse_toe("0.09", "in") == ("length", 0.002286)


@pytest.mark.parametrize("unit", ["in", "deg"])
def test_a_lone_prime_may_be_minutes_or_feet_and_is_refused(unit: str) -> None:
    with pytest.raises(QuantityError, match="minutes or feet") as refused:
        parse_toe("15'", unit)
    assert refused.value.hint == "write “0°15'”"


def test_a_toe_has_the_bounds_of_its_kind() -> None:
    assert parse_toe("1000 mm/m", "in") == ("slope", 1.0)
    for text, words in (("1001 mm/m", "steeper"), ("361°", "360 degrees"), ("101 m", "100 m")):
        with pytest.raises(QuantityError, match=words):
            parse_toe(text, "in")
