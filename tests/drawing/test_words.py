"""Quantities in words: the English of the geometry, and the same numbers in every language."""

import math
import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.drawing.words import FAMILY, Words, words_of
from service.geometry.finding_words import limits_words
from service.geometry.wording import DIRECTIONS, LENGTHS, estimate_words
from service.locale.catalogue import LANGUAGES

VALUES = st.one_of(
    st.floats(-0.2, 0.2), st.sampled_from([0.0, -0.0, 1e-9, -1e-9, 0.0254 / 64, -0.0254 / 64])
)
UNITS = st.sampled_from(["in", "mm", "cm"])


def test_every_quantity_of_the_geometry_has_words() -> None:
    assert set(FAMILY) == set(DIRECTIONS)


@given(st.sampled_from(sorted(FAMILY)), VALUES, UNITS, st.sampled_from([16, 32]))
def test_english_says_what_the_geometry_says(
    quantity: str, value: float, unit: str, denominator: int
) -> None:
    told = Words("en", unit, denominator).estimate(quantity, value)
    assert told == estimate_words(quantity, value, unit, denominator)


@given(st.sampled_from(sorted(FAMILY)), VALUES, UNITS, st.sampled_from(LANGUAGES))
def test_numbers_are_written_alike_in_every_language(
    quantity: str, value: float, unit: str, language: str
) -> None:
    def numbers(text: str) -> list[str]:
        return re.findall(r"\d[\d./]*", text)

    english = words_of("en", unit).estimate(quantity, value)
    assert numbers(words_of(language, unit).estimate(quantity, value)) == numbers(english)


@given(
    st.sampled_from(sorted(FAMILY)),
    st.none() | st.floats(-0.2, 0.2),
    st.none() | st.floats(-0.2, 0.2),
    UNITS,
)
def test_english_limits_are_those_of_the_geometry(
    quantity: str, lower: float | None, upper: float | None, unit: str
) -> None:
    told = words_of("en", unit).limits(quantity, lower, upper)
    assert told == limits_words(quantity, lower, upper, unit, 32)


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("quantity", sorted(FAMILY))
def test_right_and_left_are_told_apart_by_more_than_a_sign(quantity: str, language: str) -> None:
    size = 0.0254 if quantity in LENGTHS else math.radians(1)
    words = words_of(language, "in")
    above, below = words.estimate(quantity, size), words.estimate(quantity, -size)
    assert above != below
    assert "-" not in re.sub(r"toe-(in|out)", "", above + below)


@pytest.mark.parametrize(
    ("probability", "percent"),
    [(1.0, "> 99 %"), (0.9951, "> 99 %"), (0.99, "99 %"), (0.5, "50 %"), (0.004, "< 1 %")],
)
def test_a_probability_is_never_rounded_to_certainty(probability: float, percent: str) -> None:
    kept_together = percent.replace(" ", "\u00a0")
    assert words_of("en", "in").probability(probability) == f"{kept_together} likely inside"
