"""A display text is the rounded magnitude and the direction of the rounded value."""

import re
from fractions import Fraction
from math import degrees, inf, isclose, nan, radians

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.geometry.length_text import parse_length
from service.geometry.wording import (
    DIRECTIONS,
    LENGTHS,
    MOST_SAID,
    angle_words,
    direction_words,
    estimate_words,
    length_words,
    spoken,
)

INCH = 0.0254
QUANTITIES = sorted(DIRECTIONS)
ANGLES = sorted(set(DIRECTIONS) - LENGTHS)


@pytest.mark.parametrize(
    ("inches", "denominator", "words"),
    [
        (0.125, 32, "1/8 in"),
        (3.3125, 32, "3 5/16 in"),
        (0.0, 32, "0 in"),
        (0.03125, 32, "1/32 in"),
        (0.03125, 16, "1/16 in"),
        (0.0312, 16, "0 in"),
        (0.09375, 32, "3/32 in"),
        (0.99, 32, "1 in"),
        (11.984375, 64, "11 63/64 in"),
        (187.5, 32, "187 1/2 in"),
        (0.3, 10, "3/10 in"),
    ],
)
def test_a_length_in_inches_is_the_nearest_fraction_reduced(
    inches: float, denominator: int, words: str
) -> None:
    assert length_words(inches * INCH, "in", denominator) == words
    assert length_words(-inches * INCH, "in", denominator) == words


@pytest.mark.parametrize(
    ("metres", "unit", "words"),
    [
        (0.0032, "mm", "3.2 mm"),
        (0.8065, "mm", "806.5 mm"),
        (0.00324, "mm", "3.2 mm"),
        (0.00325, "mm", "3.3 mm"),
        (0.00004, "mm", "0.0 mm"),
        (-0.00004, "mm", "0.0 mm"),
        (0.0032, "cm", "0.32 cm"),
        (0.80645, "cm", "80.65 cm"),
        (0.00004, "cm", "0.00 cm"),
    ],
)
def test_a_length_in_metric_units_is_a_tenth_of_a_millimetre_fine(
    metres: float, unit: str, words: str
) -> None:
    assert length_words(metres, unit) == words


@pytest.mark.parametrize(
    ("angle", "words"),
    [(0.25, "0.25°"), (0.125, "0.13°"), (-0.005, "0.01°"), (0.0049, "0.00°"), (12.0, "12.00°")],
)
def test_an_angle_has_two_decimals(angle: float, words: str) -> None:
    assert angle_words(radians(angle)) == words


EIGHTH, SIXTEENTH, DEGREE = INCH / 8, INCH / 16, radians(1)


@pytest.mark.parametrize(
    ("quantity", "value", "words"),
    [
        ("offset", EIGHTH, "1/8 in right"),
        ("offset", -EIGHTH, "1/8 in left"),
        ("offset", 0.0, "centred"),
        ("offset_difference", 2 * EIGHTH, "1/4 in more on the right"),
        ("offset_difference", -2 * EIGHTH, "1/4 in more on the left"),
        ("offset_difference", 0.0, "equal on both sides"),
        ("thrust", 0.1 * DEGREE, "0.10° right"),
        ("thrust", -0.1 * DEGREE, "0.10° left"),
        ("thrust", 0.0, "straight ahead"),
        ("thrust_difference", 3 * EIGHTH, "3/8 in, aims right"),
        ("thrust_difference", -3 * EIGHTH, "3/8 in, aims left"),
        ("thrust_difference", 0.0, "aims straight ahead"),
        ("toe", 0.13 * DEGREE, "0.13° toe-in"),
        ("toe", -0.13 * DEGREE, "0.13° toe-out"),
        ("toe", 0.0, "0.00°"),
        ("toe_left", 0.06 * DEGREE, "0.06° toe-in"),
        ("toe_right", -0.06 * DEGREE, "0.06° toe-out"),
        ("toe_length", 3 * INCH / 32, "3/32 in toe-in"),
        ("toe_length", -3 * INCH / 32, "3/32 in toe-out"),
        ("toe_length", 0.0, "0 in"),
        ("setback", SIXTEENTH, "1/16 in, right end further back"),
        ("setback", -SIXTEENTH, "1/16 in, left end further back"),
        ("setback", 0.0, "square"),
        ("skew", 0.11 * DEGREE, "0.11°, right end further back"),
        ("skew", -0.11 * DEGREE, "0.11°, left end further back"),
        ("skew", 0.0, "square"),
        ("kingpin_difference", EIGHTH, "1/8 in longer on the right"),
        ("kingpin_difference", -EIGHTH, "1/8 in longer on the left"),
        ("kingpin_difference", 0.0, "equal on both sides"),
        ("camber_left", 0.25 * DEGREE, "0.25° positive"),
        ("camber_right", -0.25 * DEGREE, "0.25° negative"),
        ("camber_left", 0.0, "0.00°"),
        ("caster_left", 3.5 * DEGREE, "3.50° positive"),
        ("caster_right", -0.5 * DEGREE, "0.50° negative"),
        ("cross_camber", 0.5 * DEGREE, "0.50° more on the right"),
        ("cross_caster", -0.5 * DEGREE, "0.50° more on the left"),
        ("cross_caster", 0.0, "equal on both sides"),
        ("wedge_left", 2 * DEGREE, "2.00°, thick end to the rear"),
        ("wedge_right", -2 * DEGREE, "2.00°, thick end to the front"),
        ("wedge_left", 0.0, "no taper"),
        ("wedge_difference", 0.5 * DEGREE, "0.50° more on the right"),
        ("scrub", 0.05 * DEGREE, "0.05°, rear axle aims right of the front one"),
        ("scrub", -0.05 * DEGREE, "0.05°, rear axle aims left of the front one"),
        ("scrub", 0.0, "parallel"),
        ("span_difference", SIXTEENTH, "1/16 in longer on the right"),
        ("span_difference", -SIXTEENTH, "1/16 in longer on the left"),
        ("span_difference", 0.0, "equal on both sides"),
    ],
)
def test_an_estimate_says_its_size_and_its_direction(
    quantity: str, value: float, words: str
) -> None:
    assert estimate_words(quantity, value, "in" if quantity in LENGTHS else "deg", 32) == words


def test_every_quantity_of_the_wire_has_words() -> None:
    from service.contract.target_sets import Quantity

    assert {quantity.value for quantity in Quantity} == set(DIRECTIONS)


def test_an_estimate_in_millimetres_says_so() -> None:
    assert estimate_words("offset", -0.0032, "mm", 32) == "3.2 mm left"
    assert estimate_words("setback", 0.0016, "cm", 32) == "0.16 cm, right end further back"


@pytest.mark.parametrize("quantity", QUANTITIES)
@pytest.mark.parametrize("sign", [1, -1])
def test_a_value_that_rounds_to_zero_has_the_words_of_zero(quantity: str, sign: int) -> None:
    tiny = sign * (0.4 * INCH / 32 if quantity in LENGTHS else 0.0049 * DEGREE)
    assert estimate_words(quantity, tiny, "in", 32) == estimate_words(quantity, 0.0, "in", 32)


OPPOSITES = [
    ("right", "left"), ("toe-in", "toe-out"), ("positive", "negative"),
    ("to the rear", "to the front"),
]  # fmt: skip


def mirrored(words: str) -> str:
    for one, other in OPPOSITES:
        if one in words or other in words:
            return words.replace(one, "@").replace(other, one).replace("@", other)
    return words


@given(
    quantity=st.sampled_from(QUANTITIES),
    value=st.floats(-0.3, 0.3),
    unit=st.sampled_from(["in", "mm", "cm"]),
    denominator=st.sampled_from([8, 16, 32, 64]),
)
def test_the_opposite_value_has_the_opposite_words(
    quantity: str, value: float, unit: str, denominator: int
) -> None:
    there = estimate_words(quantity, value, unit, denominator)
    assert estimate_words(quantity, -value, unit, denominator) == mirrored(there)
    assert "-0" not in there


@given(metres=st.floats(0, 20), denominator=st.integers(2, 64))
def test_words_in_inches_read_back_within_half_a_step(metres: float, denominator: int) -> None:
    words = length_words(metres, "in", denominator)
    assert abs(parse_length(words, "mm") - metres) <= INCH / denominator / 2 * (1 + 1e-7)
    below = re.search("/([0-9]+)", words)
    assert below is None or denominator % int(below[1]) == 0


@given(metres=st.floats(0, 20), unit=st.sampled_from(["mm", "cm"]))
def test_words_in_metric_units_read_back_within_half_a_step(metres: float, unit: str) -> None:
    assert abs(parse_length(length_words(metres, unit), "in") - metres) <= 5.001e-5


@given(st.integers(0, 100_000), st.sampled_from([2, 4, 8, 16, 32, 64]))
def test_halfway_between_two_fractions_goes_up_whatever_the_last_bit_says(
    step: int, denominator: int
) -> None:
    """Half of a difference of readings falls there exactly, and arithmetic blurs its last bits."""
    halfway = float(Fraction(2 * step + 1, 2 * denominator) * Fraction(254, 10_000))
    above = length_words(float(Fraction(step + 1, denominator)) * INCH, "in", denominator)
    for noise in (-1e-15, 0.0, 1e-15):
        assert length_words(halfway * (1 + noise), "in", denominator) == above


@given(quantity=st.sampled_from(ANGLES), value=st.floats(-1, 1))
def test_the_number_in_an_angle_text_is_the_rounded_value(quantity: str, value: float) -> None:
    words = estimate_words(quantity, value, "deg", 32)
    number = re.match(r"[0-9]+\.[0-9]{2}(?=°)", words)
    shown = float(number[0]) if number else 0.0
    assert isclose(shown, abs(degrees(value)), abs_tol=0.005001)


def test_a_direction_follows_the_sign_of_a_rounded_value() -> None:
    assert direction_words("thrust", 0.1) == "right"
    assert direction_words("thrust", -1) == "left"
    assert direction_words("toe", 0) == ""


@pytest.mark.parametrize("quantity", ["offset", "thrust"])
def test_what_is_not_finite_has_no_words(quantity: str) -> None:
    with pytest.raises(ValueError, match="NaN"):
        estimate_words(quantity, nan, "in", 32)
    with pytest.raises(OverflowError):
        estimate_words(quantity, -inf, "in", 32)


def test_a_quantity_without_words_is_an_error() -> None:
    with pytest.raises(KeyError):
        estimate_words("odometer", 1.0, "in", 32)


def test_texts_of_a_quantity_that_are_too_many_to_keep_are_made_anew() -> None:
    _, said = spoken("camber_left", "deg", 32)
    first = said[1]
    for steps in range(2 * MOST_SAID):
        assert said[steps].startswith(f"{steps // 100}.") or not steps
        assert len(said) <= MOST_SAID
    assert said[1] == first == "0.01° positive"
