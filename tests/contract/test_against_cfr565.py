"""VIN check digits against the samples of 49 CFR 565 and of NHTSA's guide to new makers."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.contract.vin import (
    CHECK_PLACE,
    VALUES,
    CheckDigit,
    VinError,
    check,
    check_digit,
    is_north_american,
    normal_vin,
)

SAMPLES = [
    pytest.param("1G4AH59H45G118341", "4", id="the regulation's own sample, sum 411"),
    pytest.param("1J9RP1A36A1644345", "6", id="NHTSA's sample for new makers, sum 314"),
    pytest.param("1M8GDM9AXKP042788", "X", id="usual textbook sample, sum 351"),
]
vins = st.text(st.sampled_from(sorted(VALUES)), min_size=17, max_size=17)


@pytest.mark.parametrize(("vin", "digit"), SAMPLES)
def test_published_samples_carry_their_check_digit(vin: str, digit: str) -> None:
    assert check_digit(vin) == digit
    assert check(vin) is CheckDigit.RIGHT


@given(vins)
def test_of_the_eleven_digits_exactly_one_is_right(vin: str) -> None:
    head, tail = vin[: CHECK_PLACE - 1], vin[CHECK_PLACE:]
    right = [d for d in "0123456789X" if check(head + d + tail) is CheckDigit.RIGHT]
    assert right == [check_digit(vin)]


@given(st.sampled_from([sample.values[0] for sample in SAMPLES]), st.integers(0, 16), st.data())
def test_one_wrong_character_is_found_unless_its_value_is_the_same(
    vin: str, place: int, data: st.DataObject
) -> None:
    """Any other value in any other place moves the sum by something not divisible by 11."""
    other = data.draw(st.sampled_from(sorted(VALUES)))
    wrong = vin[:place] + other + vin[place + 1 :]
    if place != CHECK_PLACE - 1 and VALUES[other] != VALUES[vin[place]]:
        assert check(wrong) is not CheckDigit.RIGHT


def test_a_letter_in_position_nine_is_no_check_digit() -> None:
    assert check("1G4AH59HA5G118341") is CheckDigit.NOT_A_DIGIT


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("1G4AH59H45G11834", "has 16"),
        ("1G4AH59H45G1183411", "has 18"),
        ("1G4AH59H45GI18341", "Character 12, 'I'.*1 may be meant"),
        ("1G4AH59H45GO18341", "0 may be meant"),
        ("1G4AH59H45G11834é", "Character 17"),
        ("", "has 0"),
    ],
)
def test_what_is_no_vin_is_told_why(text: str, says: str) -> None:
    with pytest.raises(VinError, match=says):
        normal_vin(text)


def test_small_letters_blanks_and_hyphens_are_tidied() -> None:
    assert normal_vin("1g4ah 59h4-5g118341") == "1G4AH59H45G118341"


def test_the_first_character_says_whose_rule_holds() -> None:
    assert is_north_american("1G4AH59H45G118341")
    assert not is_north_american("WDB9634031L000000")
