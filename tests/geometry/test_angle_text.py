"""Angles as people write them: decimal degrees, or degrees, minutes and seconds."""

from fractions import Fraction
from math import radians

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.geometry.angle_text import parse_angle
from service.geometry.quantity import QuantityError


@pytest.mark.parametrize(
    "text",
    [
        "0.25", ".25", "1/4", "¼", "0¼", "+0.25", "00.250", " 0.25 ", "0 1/4",
        "0.25°", "0.25 °", "0.25º", "0.25˚", "0.25deg", "0.25 deg", "0.25 DEG", "0.25 degree",
        "0.25 degrees", "1/4°", "¼ deg",
        "15'", "15′", "15’", "15 '", "15 min", "15.0'",
        "0°15'", "0° 15'", "0 ° 15 '", "0°15′", "0º15’", "0 deg 15'", "0 deg 15 min", "0°15.00'",
        "0°15'0\"", "0° 15' 00″", "0°15'0''",
        "0°15′0′′", "0 deg 15 min 0 sec", "15'0\"", "0\u00a0°\u00a015'",
    ],
)  # fmt: skip
def test_every_spelling_of_a_quarter_of_a_degree_is_the_same_angle(text: str) -> None:
    assert parse_angle(text) == radians(0.25)


@pytest.mark.parametrize(
    ("text", "degrees"),
    [
        ("3 1/2", 3.5),
        ("3.5 deg", 3.5),
        ("0° 15' 30\"", 0.25 + 30 / 3600),
        ("4°30'", 4.5),
        ("1°59'59.5\"", 1 + 59 / 60 + 59.5 / 3600),
        ("0°0'", 0.0),
        ("7.5'", 0.125),
        ("360", 360.0),
        ("360°0'", 360.0),
    ],
)
def test_an_angle_is_its_degrees(text: str, degrees: float) -> None:
    assert parse_angle(text) == pytest.approx(radians(degrees), rel=1e-15)


@pytest.mark.parametrize("sign", ["-", "−", "- "])
@pytest.mark.parametrize("body", ["0°15'", "0° 15' 30\"", "15'", "0.25", "3 1/2", "1°30'"])
def test_the_sign_holds_for_the_whole_text_also_with_no_degrees(sign: str, body: str) -> None:
    assert parse_angle(sign + body) == -parse_angle(body)


@pytest.mark.parametrize("text", ["-0", "-0°0'", "−0.00 deg"])
def test_zero_has_no_sign(text: str) -> None:
    assert str(parse_angle(text)) == "0.0"


@given(st.integers(0, 359), st.integers(0, 59), st.integers(0, 59), st.sampled_from(["", " "]))
def test_degrees_minutes_and_seconds_add_up(
    degrees: int, minutes: int, seconds: int, gap: str
) -> None:
    exact = degrees + Fraction(minutes, 60) + Fraction(seconds, 3600)
    angle = parse_angle(f"{degrees}°{gap}{minutes}'{gap}{seconds}\"")
    assert angle == radians(float(exact))


@pytest.mark.parametrize("text", ["360.1", "-361°", "360°0'1\"", "99999"])
def test_more_than_a_turn_is_refused(text: str) -> None:
    with pytest.raises(QuantityError, match="more than 360 degrees"):
        parse_angle(text)
