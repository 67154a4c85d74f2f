"""Every text that is no quantity is told what is wrong with it and how to write it right."""

import re
from collections.abc import Callable
from functools import partial

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.geometry.angle_text import parse_angle
from service.geometry.length_text import parse_length, parse_tape
from service.geometry.quantity import QuantityError, quoted
from service.geometry.toe_text import parse_toe

Parser = Callable[[str], object]

length: Parser = partial(parse_length, unit="in")
toe: Parser = partial(parse_toe, unit="in")
PARSERS: list[Parser] = [
    length, toe, parse_angle, partial(parse_length, unit="mm"), partial(parse_tape, unit="cm"),
    partial(parse_toe, unit="deg"), partial(parse_toe, unit="mm/m"),
]  # fmt: skip


def refusal(parse: Parser, text: str) -> QuantityError:
    with pytest.raises(QuantityError) as refused:
        parse(text)
    return refused.value


ANY_KIND = [
    ("", "is empty", "like “"),
    ("   ", "is empty", "like “"),
    ("31,75", "has a decimal comma", "write “31.75”"),
    ("0,5", "has a decimal comma", "write “0.5”"),
    ("0,125", "has a decimal comma", "write “0.125”"),
    ("1,5,5.5", "has commas between its thousands", "write “155.5”"),
    ("1.2,5", "has a decimal comma and points", "write “12.5”"),
    ("31, 75", "has a decimal comma", "use a decimal point"),
    ("3/0", "has a fraction over zero", "write a fraction like “3/32”"),
    ("3/000", "has a fraction over zero", "write a fraction like “3/32”"),
    ("31 3/0", "has a fraction over zero", "write a fraction like “3/32”"),
    ("31 5/4", "a fraction that is not smaller than 1", "5/4 make 32 1/4"),
    ("31 4/4", "a fraction that is not smaller than 1", "4/4 make 32"),
    ("31-9/8", "a fraction that is not smaller than 1", "9/8 make 32 1/8"),
    ("1e1", "is in exponent notation", "write “10”"),
    ("1.5E-2", "is in exponent notation", "write “0.015”"),
    ("1e999", "is in exponent notation", "write it out"),
    ("NaN", "is not a finite number", "leave out what was not read"),
    ("-inf", "is not a finite number", "leave out what was not read"),
    ("Infinity", "is not a finite number", "leave out what was not read"),
    ("null", "is not a finite number", "leave out what was not read"),
    ("∞", "is not a finite number", "leave out what was not read"),
    ("31\n", "has a line break (U+000A)", "write “31”"),
    ("31\r\n", "has a line break (U+000D)", "write “31”"),
    ("\t31", "has a tab (U+0009)", "write “31”"),
    ("31\x00", "has a character that cannot be seen (U+0000)", "write “31”"),
    ("\ufeff31", "has a character that cannot be seen (U+FEFF)", "write “31”"),
    ("31\u2028", "has a character that cannot be seen (U+2028)", "write “31”"),
    ("\ud800", "has a character that cannot be seen (U+D800)", "take it out"),
    ("٣١", "has “٣”, which is not a digit from 0 to 9", "write “31”"),
    ("３１", "has “３”, which is not a digit from 0 to 9", "write “31”"),
    ("31³", "has “³”, which is not a digit from 0 to 9", "use the digits 0 to 9"),
    ("↉", "has “↉”, which is not a digit from 0 to 9", "use the digits 0 to 9"),
    ("--1", "has more than one sign", "write one sign or none"),
    ("+-1", "has more than one sign", "write one sign or none"),
    ("− −1", "has more than one sign", "write one sign or none"),
    ("31-", "has its sign behind the number", "write “-31”"),
    ("31 +", "has its sign behind the number", "write “+31”"),
    ("31 - 3/4", "has a plus or minus sign between its parts", "write “31-3/4” or “31 3/4”"),
    ("31 -3/4", "has a plus or minus sign between its parts", "write “31-3/4” or “31 3/4”"),
    ("31+3/4", "has a plus or minus sign between its parts", "write “31-3/4” or “31 3/4”"),
    ("31−3/4", "has a plus or minus sign between its parts", "write “31-3/4” or “31 3/4”"),
    ("±1/16", "has “±” in it", "like “"),
    ("$5", "has “$” in it", "like “"),
    ("1_000", "has “_” in it", "like “"),
    ("5%", "has “%” in it", "like “"),
    ("31.", "has a decimal point without digits behind it", "write “31”"),
    (".", "has no number in it", "like “"),
    ("1.2.3", "has two decimal points in one number", "write one, as in “31.5”"),
    ("1.5/2", "mixes a decimal point with a fraction", "as a fraction like “31 3/4”"),
    ("1/2.5", "mixes a decimal point with a fraction", "as a fraction like “31 3/4”"),
    ("1.5 3/4", "mixes a decimal point with a fraction", "as a fraction like “31 3/4”"),
    ("1.5¾", "mixes a decimal point with a fraction", "as a fraction like “31 3/4”"),
    ("3/", "has a fraction that lacks a number", "write a fraction like “31 3/4”"),
    ("/4", "has a fraction that lacks a number", "write a fraction like “31 3/4”"),
    ("1/2/3", "has two fraction bars", "write a fraction like “31 3/4”"),
    ("12 34", "has two numbers side by side", "as in “31.75” or “31 3/4”"),
    ("12-34", "has two numbers side by side", "as in “31.75” or “31 3/4”"),
    ("1 2 3/4", "has more numbers than one mixed number", "as in “31.75” or “31 3/4”"),
    ("-", "has no number in it", "like “"),
    ("furlong", "has the unit “furlong”, which is not known here", "units are"),
    ("5 furlongs", "has the unit “furlongs”, which is not known here", "units are"),
    ("0x1F", "has the unit “x”, which is not known here", "units are"),
    ("5 µm", "has the unit “µm”, which is not known here", "units are"),
    ("1" * 41, "has 41 characters, and at most 40 are read", "like “"),
    (" " * 40 + "5", "has 41 characters, and at most 40 are read", "write “5”"),
    ("31" + " " * 40 + "3/4", "has 45 characters, and at most 40 are read", "write “31 3/4”"),
]


@pytest.mark.parametrize("parse", [length, parse_angle, toe], ids=["length", "angle", "toe"])
@pytest.mark.parametrize(("text", "reason", "hint"), ANY_KIND)
def test_what_no_quantity_is_has_its_reason_and_hint(
    parse: Parser, text: str, reason: str, hint: str
) -> None:
    error = refusal(parse, text)
    assert reason in error.reason
    assert hint in error.hint


LENGTH_ONLY = [
    ("1,234", "has a comma that may part thousands or decimals", "write “1234” or “1.234”"),
    ("1 234", "has two numbers side by side", "write “1234”"),
    ("0.25°", "carries “°” like an angle, and a length is wanted", "like “31 3/4”"),
    ("0°15'", "carries “°” like an angle, and a length is wanted", "like “31 3/4”"),
    ("0.25 deg", "carries “deg” like an angle, and a length is wanted", "like “31 3/4”"),
    ("15 min", "carries “min” like an angle, and a length is wanted", "like “31 3/4”"),
    ("1.5 mm/m", "is a slope, and a length is wanted", "like “31 3/4”"),
    ("31 in 5 mm", "has the units “in” and “mm”, which do not combine", "write one unit"),
    ("7 in 2 ft", "has the units “in” and “ft”, which do not combine", "write one unit"),
    ("2 ft 3 ft", "has the units “ft” and “ft”, which do not combine", "write one unit"),
    ("1 m 20 cm", "has the units “m” and “cm”, which do not combine", "write one unit"),
    ("2' 7 mm", "has the units “'” and “mm”, which do not combine", "write one unit"),
    ('31" 3/4"', 'has the units “"” and “"”, which do not combine', "write one unit"),
    ("mm", "has no number in it", "like “31 3/4”"),
    ("mm 5", "has its unit before the number", "write “5 mm”"),
    ("2' 12", "has 12 inches or more behind the feet", "less than 12 inches"),
    ("2 ft 31 3/4 in", "has 12 inches or more behind the feet", "less than 12 inches"),
    ("2.5' 3\"", "has feet before inches that are not a whole number", "as in “2' 7 3/4\"”"),
    ("2 1/2 ft 3 in", "has feet before inches that are not a whole number", "as in “2' 7 3/4\"”"),
    ("4000", "is longer than 100 m", "check the number and its unit"),
]


@pytest.mark.parametrize(("text", "reason", "hint"), LENGTH_ONLY)
def test_what_no_length_is_has_its_reason_and_hint(text: str, reason: str, hint: str) -> None:
    error = refusal(length, text)
    assert reason in error.reason
    assert hint in error.hint


ANGLE_ONLY = [
    ("1/2 in", "carries “in” like a length, and an angle is wanted", "like “0.25”"),
    ("5mm", "carries “mm” like a length, and an angle is wanted", "like “0.25”"),
    ("2 ft", "carries “ft” like a length, and an angle is wanted", "like “0.25”"),
    ("1.5 mm/m", "is a slope, and an angle is wanted", "like “0.25”"),
    ("0°60'", "has 60 minutes or more", "less than 60 minutes"),
    ("90'", "has 60 minutes or more", "less than 60 minutes"),
    ("0°15'60\"", "has 60 seconds or more", "less than 60 minutes and seconds"),
    ("0°15", "has “15” without a mark behind it", "write “0°15'” or “0.15°”"),
    ("0°15'30", "has “30” without a mark behind it", "write “0°15'30\"”"),
    ("1.5°15'", "has a part of a degree before its minutes", "as in “0°15'”"),
    ("1/2°15'", "has a part of a degree before its minutes", "as in “0°15'”"),
    ("7 1/2'", "has a fraction of a minute", "as in “0°7.5'”"),
    ('30"', "a mark of seconds or inches without minutes", "as in “0°0'30\"”"),
    ('0°30"', "a mark of seconds or inches without minutes", "as in “0°0'30\"”"),
    ("1°1°", "is not spelled as an angle", "like “0.25”"),
    ("400", "is more than 360 degrees", "up to “360°”"),
]


@pytest.mark.parametrize(("text", "reason", "hint"), ANGLE_ONLY)
def test_what_no_angle_is_has_its_reason_and_hint(text: str, reason: str, hint: str) -> None:
    error = refusal(parse_angle, text)
    assert reason in error.reason
    assert hint in error.hint


TOE_ONLY = [
    ("15'", "has a mark that may mean minutes or feet", "write “0°15'”"),
    ("15 min", "has a mark that may mean minutes or feet", "write “0°15 min”"),
    ("2 ft", "is in feet, which no toe is", "as in “1/16 in”"),
    ("1/16 in 0.09°", "has the units of an angle and of a length", "as in “0.09°” or “1/16 in”"),
    ("2 mm 3 cm", "has the units “mm” and “cm”, which do not combine", "write one unit"),
    ("1 mm/in", "has the units “mm” and “in”, which do not combine", "write one unit"),
    ("0°60'", "has 60 minutes or more", "less than 60 minutes"),
    ("0°15", "has “15” without a mark behind it", "write “0°15'” or “0.15°”"),
    ("1001 mm/m", "is steeper than 1000 mm/m", "up to “1000 mm/m”"),
]


@pytest.mark.parametrize(("text", "reason", "hint"), TOE_ONLY)
def test_what_no_toe_is_has_its_reason_and_hint(text: str, reason: str, hint: str) -> None:
    error = refusal(toe, text)
    assert reason in error.reason
    assert hint in error.hint


def test_a_long_text_is_quoted_cut_and_without_what_cannot_be_seen() -> None:
    assert quoted("x" * 1000) == f"“{'x' * 39}…”"
    assert quoted("3\n\u202e1\u00a0\ud800") == "“3\\u000a\\u202e1 \\ud800”"


SEEDS = [text for text, _, _ in ANY_KIND + LENGTH_ONLY + ANGLE_ONLY + TOE_ONLY]
PIECES = [
    "31", "3/4", " ", "-", "−", "+", ",", ".", "'", '"', "°", "in", "ft", "mm", "m", "deg", "min",
    "e5", "0", "/0", "½", "\n", "\u00a0", "”", "x", "²", "٣", "2'", "1,234", "sec", "/",
]  # fmt: skip
garbage = (
    st.text(max_size=45)
    | st.lists(st.sampled_from(PIECES), max_size=8).map("".join)
    | st.tuples(st.sampled_from(SEEDS), st.sampled_from(PIECES)).map("".join)
    | st.tuples(st.sampled_from(PIECES), st.sampled_from(SEEDS)).map("".join)
)


def refused(parse: Parser, text: str) -> QuantityError | None:
    try:
        parse(text)
    except QuantityError as error:
        return error
    return None


@given(parse=st.sampled_from(PARSERS), text=garbage)
def test_a_text_is_read_or_refused_and_what_a_hint_puts_forward_is_read(
    parse: Parser, text: str
) -> None:
    error = refused(parse, text)
    if error is not None:
        assert error.reason.startswith(quoted(text))
        assert str(error) == f"{error.reason}: {error.hint}"
        assert (error.reason + error.hint).isprintable()
        for proposal in re.findall("“(.*?)”", error.hint):
            assert refused(parse, proposal) is None
