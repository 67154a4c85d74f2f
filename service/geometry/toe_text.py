"""Toe as people write it: a length over a baseline, an angle or a slope, told apart by its mark."""

import re
from functools import lru_cache
from typing import Literal

from service.geometry import spelling
from service.geometry.angle_text import (
    DEGREES_AND_MINUTES,
    SIXTIETHS_CHECKS,
    radians_of_parts,
    radians_within_bound,
)
from service.geometry.length_text import (
    UNIT_SPELLINGS,
    metres_within_bound,
    units_that_do_not_combine,
)
from service.geometry.quantity import (
    LONGEST_TEXT,
    TENTH_MILLIMETRES,
    QuantityError,
    quoted,
    ratio,
)
from service.geometry.refusal import Fault, Subject, refusal
from service.geometry.refusal_of_numbers import (
    NUMBER_CHECKS,
    SYMBOL_CHECKS,
    unknown_unit,
    zero_denominator,
)
from service.geometry.spelling import DEGREE, INCH, METRIC, SLOPE, SPACE

ToeKind = Literal["length", "angle", "slope"]

STEEPEST_SLOPE = 1000
"""Millimetres per metre."""

_MARK = f"(?P<slope>{SLOPE})|(?P<length>{INCH}|{METRIC})|(?P<angle>{DEGREE})"
_TOE = spelling.signed(
    f"(?P<number>{spelling.number()})(?:{SPACE}*(?:{_MARK}))?|{DEGREES_AND_MINUTES}"
)

TOE_PATTERN = spelling.published(_TOE)
"""ECMA-262 pattern of every text that `parse_toe` reads, size and mixed numbers aside."""

_match = re.compile(_TOE).fullmatch


@lru_cache(maxsize=16_384)
def parse_toe(text: str, unit: str) -> tuple[ToeKind, float]:
    """What the text states: ("length", metres), ("angle", radians) or ("slope", metre per metre).

    `unit` holds for a text without its own: `in`, `mm` or `cm`, or `deg` or `mm/m`. Feet and lone
    minutes are refused, because their mark is the same. Raises QuantityError.
    """
    toe = _toe(text, unit)
    if toe is None:
        raise refusal(text, _SUBJECT, lambda meant: _reads_toe(meant, unit), _CHECKS)
    return toe


def _reads_toe(text: str, unit: str) -> bool:
    try:
        return _toe(text, unit) is not None
    except QuantityError:
        return False


def _toe(text: str, unit: str) -> tuple[ToeKind, float] | None:
    """None when the grammar does not match; QuantityError when only the numbers are wrong."""
    match = None if len(text) > LONGEST_TEXT else _match(text)
    if match is None:
        return None
    sign, number, slope, length, angle, *parts = match.groups()
    if number is None:
        degrees, minutes, part, seconds = parts
        return "angle", radians_of_parts((degrees, minutes, part, seconds), sign, text)
    numerator, denominator = ratio(number, text)
    if slope or (unit == "mm/m" and not (length or angle)):
        return "slope", _slope(numerator, denominator, sign, text)
    if angle or (unit == "deg" and not length):
        return "angle", radians_within_bound(numerator, denominator, sign, text)
    size = UNIT_SPELLINGS[length.lower()] if length else TENTH_MILLIMETRES[unit]
    return "length", metres_within_bound(numerator * size, denominator, sign, text)


def _slope(numerator: int, denominator: int, sign: str | None, text: str) -> float:
    denominator *= 1000
    if numerator * 1000 > STEEPEST_SLOPE * denominator:
        raise QuantityError(
            f"{quoted(text)} is steeper than {STEEPEST_SLOPE} mm/m",
            f"check the number; slopes up to “{STEEPEST_SLOPE} mm/m” are read",
        )
    return (-numerator if sign and sign != "+" else numerator) / denominator


_FOOT_WORDS = ("ft", "foot", "feet")


def _feet_or_minutes(text: str, _subject: Subject) -> Fault | None:
    has_feet = any(word in _FOOT_WORDS for word in re.findall("[a-z]+", text.lower()))
    if has_feet:
        return Fault("is in feet, which no toe is", (), "write it in inches, as in “1/16 in”")
    if not re.search("'|min", text.lower()) or re.search("°|deg", text.lower()):
        return None
    advice = "write minutes with their degrees, as in “0°15'”, or a length, as in “1/16 in”"
    return Fault("has a mark that may mean minutes or feet", (f"0°{text}",), advice)


def _kinds_that_do_not_combine(text: str, subject: Subject) -> Fault | None:
    if re.search("°|deg", text.lower()):
        lengths = re.search("in|mm|cm|(?<![a-z])m(?![a-z])", text.lower().replace("min", ""))
        if not lengths:
            return None
        advice = "write one of them, as in “0.09°” or “1/16 in”"
        return Fault("has the units of an angle and of a length", (), advice)
    return units_that_do_not_combine(text, subject)


_SUBJECT = Subject("a toe", ("1/16", "-1/32 in", "0.09°", "1.5 mm/m"))
_WORDS = (*UNIT_SPELLINGS, "deg", "degree", "degrees", "min", "sec")
_CHECKS = (
    zero_denominator,
    unknown_unit(_WORDS, "in, mm, cm, m, °, deg and mm/m"),
    *SYMBOL_CHECKS,
    _feet_or_minutes,
    _kinds_that_do_not_combine,
    *SIXTIETHS_CHECKS,
    *NUMBER_CHECKS,
)
