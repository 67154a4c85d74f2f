"""Lengths as people write them; a reading is the nearest float to what the text states exactly."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.geometry.length_text import LENGTHS, parse_length, parse_tape
from service.geometry.quantity import VULGAR_FRACTIONS, QuantityError

MILLIMETRES = {"in": Fraction(254, 10), "ft": Fraction(3048, 10), "mm": 1, "cm": 10, "m": 1000}
"""Exact by the international inch; NIST SP 811, appendix B, from memory."""


def exact(number: Fraction | int, unit: str) -> float:
    return float(number * Fraction(MILLIMETRES[unit]) / 1000)


@pytest.mark.parametrize(
    "text",
    [
        "31 3/4", "31-3/4", "31‐3/4", "31‑3/4", "31.75", "31¾", "31 ¾", "31-¾",
        "31 3/4 in", "31-3/4 in", '31-3/4"', "31 3/4in", "31 3/4 in.", "31 3/4 inch",
        "31 3/4 inches", "31 3/4 IN", "31 3/4 Inches", "31 3/4″", "31 3/4”", "31 3/4 “",
        "31 3/4''", "31 3/4′′", "31 3/4’’", "127/4", "31 24/32", "31 3⁄4", "31 3∕4",
        "31 3 / 4", "31  3/4", "31\u00a03/4", "31\u202f3/4", "31\u20093/4",
        "2' 7 3/4\"", "2'7 3/4\"", "2'-7 3/4\"", "2' - 7 3/4\"", "2'-7-3/4\"", "2' 7 3/4", "2'7.75",
        "2 ft 7 3/4 in", "2ft7 3/4in", "2 ft. 7 3/4 in.", "2 foot 7 3/4 inch", "2 feet 7¾ inches",
        "2′ 7 3/4″", "2’ 7 3/4”", "2‘ 7 3/4“", "2' 7 3/4''", "2 FT 7 3/4 IN", "02' 07.75\"",
        " 31 3/4 ", "\u00a031 3/4\u00a0", "+31 3/4", "+ 31 3/4", "031.750",
        "806.45 mm", "80.645 cm", ".80645 m", "806.45mm", "806.45 MM", "80.645 Cm", "0.80645 M",
        "80 129/200 cm",
    ],
)  # fmt: skip
def test_every_spelling_of_31_3_4_inches_is_the_same_length(text: str) -> None:
    assert parse_length(text, "in") == 0.80645


@pytest.mark.parametrize(
    ("text", "inches"),
    [
        ("3/32", Fraction(3, 32)),
        ("5/4", Fraction(5, 4)),
        ("0", 0),
        ("0/8", 0),
        ("0 0/8", 0),
        (".25", Fraction(1, 4)),
        ("½", Fraction(1, 2)),
        ("1/2 ft", 6),
        ("2.5 ft", 30),
        ("2 1/2'", 30),
        ("2'", 24),
        ("2'7", 31),
        ("0' 11 63/64\"", Fraction(767, 64)),
        ("2' .5", Fraction(49, 2)),
        ("2' 3/4", Fraction(99, 4)),
        ("2' 5/4", Fraction(101, 4)),
        ("1/00064", Fraction(1, 64)),
        ("187 1/2", Fraction(375, 2)),
    ],
)
def test_a_text_in_inches_is_its_exact_value(text: str, inches: Fraction | int) -> None:
    assert parse_length(text, "in") == exact(inches, "in")


@pytest.mark.parametrize("sign", ["-", "−", "- ", "−\u00a0", " -"])
@pytest.mark.parametrize("body", ["1/16", "2' 7 3/4\"", "31.75", "806.5 mm", "¾"])
def test_a_minus_sign_of_either_kind_holds_for_the_whole_text(sign: str, body: str) -> None:
    assert parse_length(sign + body, "in") == -parse_length(body, "in")


@pytest.mark.parametrize("text", ["-0", "−0 in", "-0/8", "-0' 0"])
def test_zero_has_no_sign(text: str) -> None:
    assert str(parse_length(text, "in")) == "0.0"


@pytest.mark.parametrize(("unit", "metres"), [("in", 0.0508), ("mm", 0.002), ("cm", 0.02)])
def test_a_text_without_a_unit_is_in_the_unit_of_the_request(unit: str, metres: float) -> None:
    assert parse_length("2", unit) == metres


@pytest.mark.parametrize("unit", ["in", "mm", "cm"])
def test_a_unit_in_the_text_overrules_that_of_the_request(unit: str) -> None:
    assert parse_length("2 mm", unit) == 0.002
    assert parse_length("2' 1", unit) == 0.635


@pytest.mark.parametrize(("character", "fraction"), VULGAR_FRACTIONS.items())
def test_a_vulgar_fraction_is_the_one_that_unicode_says(
    character: str, fraction: tuple[int, int]
) -> None:
    """Reference: NFKC decomposition and numeric value of the Unicode Character Database."""
    import unicodedata

    assert unicodedata.normalize("NFKC", character) == "{}⁄{}".format(*fraction)
    assert parse_length(f"7{character}", "in") == exact(7 + Fraction(*fraction), "in")


def test_every_vulgar_fraction_of_unicode_that_has_a_value_is_read() -> None:
    import unicodedata

    known = {
        chr(c)
        for c in range(0x110000)
        if unicodedata.name(chr(c), "").startswith("VULGAR FRACTION") and chr(c) != "↉"
    }
    assert known == set(VULGAR_FRACTIONS)


@given(
    whole=st.integers(0, 300),
    denominator=st.sampled_from([2, 4, 8, 16, 32, 64, 3, 10]),
    numerator=st.integers(0, 63),
    gap=st.sampled_from([" ", "-", "  ", "\u00a0"]),
    unit=st.sampled_from(["in", "mm", "cm"]),
)
def test_a_mixed_number_is_rounded_once(
    whole: int, denominator: int, numerator: int, gap: str, unit: str
) -> None:
    numerator %= denominator
    metres = parse_length(f"{whole}{gap}{numerator}/{denominator} {unit}", "in")
    assert metres == exact(whole + Fraction(numerator, denominator), unit)


@given(
    feet=st.integers(0, 300),
    inches=st.integers(0, 11),
    sixteenths=st.integers(1, 15),
    between=st.sampled_from(["", " ", "-", " - "]),
)
def test_feet_and_inches_are_rounded_once(
    feet: int, inches: int, sixteenths: int, between: str
) -> None:
    metres = parse_length(f"{feet}'{between}{inches} {sixteenths}/16\"", "mm")
    assert metres == exact(12 * feet + inches + Fraction(sixteenths, 16), "in")


@given(value=st.decimals(0, 2000, places=4), unit=st.sampled_from(["in", "mm", "cm"]))
def test_a_decimal_is_rounded_once(value: object, unit: str) -> None:
    assert parse_length(f"{value}", unit) == exact(Fraction(str(value)), unit)


def test_a_hundred_metres_are_read_and_nothing_longer() -> None:
    assert parse_length("100 m", "in") == 100.0
    assert parse_length("-100000", "mm") == -100.0
    for text in ("100.0001 m", "-100000.1 mm", "3937 1/64", "9" * 40):
        with pytest.raises(QuantityError, match="longer than 100 m"):
            parse_length(text, "in")


@pytest.mark.parametrize("text", ["30 1/8", "766.8 mm", "0", "2' 6\""])
def test_a_tape_reading_is_read_like_any_length(text: str) -> None:
    assert parse_tape(text, "in") == parse_length(text, "in")


@pytest.mark.parametrize("text", ["-30 1/8", "−30 1/8", " - 30 1/8", "+30 1/8", "-0"])
def test_a_tape_reading_has_no_sign(text: str) -> None:
    with pytest.raises(QuantityError, match="never below zero") as refused:
        parse_tape(text, "in")
    assert refused.value.hint == f"write “{text.strip(' +-−')}” if that is what was read"


def test_a_signed_tape_reading_that_is_too_long_as_well_is_told_of_its_sign() -> None:
    with pytest.raises(QuantityError, match="never below zero") as refused:
        parse_tape("-400'", "in")
    assert refused.value.hint == "read the tape again"


def test_a_text_read_before_is_not_read_again() -> None:
    parse_length("12 17/32", "in")
    assert LENGTHS["in"]["12 17/32"] is parse_length("12 17/32", "in")
