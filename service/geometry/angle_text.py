"""Angles as people write them, to radians."""

import re
from math import radians

from service.geometry import spelling
from service.geometry.length_text import UNIT_SPELLINGS
from service.geometry.quantity import LONGEST_TEXT, QuantityError, quoted, ratio
from service.geometry.refusal import Fault, Subject, refusal
from service.geometry.refusal_of_numbers import (
    NUMBER_CHECKS,
    SYMBOL_CHECKS,
    other_kind,
    slope_where_none_is_wanted,
    unknown_unit,
    zero_denominator,
)
from service.geometry.spelling import DEGREE, DIGITS, MINUTE, SECOND, SPACE, UP_TO_59, VULGAR
from service.geometry.text_memory import TextMemory

LARGEST_ANGLE = 360
"""Degrees."""

_MINUTES = (
    rf"(?P<minutes>{UP_TO_59})(?:(?P<part>\.{DIGITS}){SPACE}*{MINUTE}|{SPACE}*{MINUTE}"
    rf"(?:{SPACE}*(?P<seconds>{UP_TO_59}(?:\.{DIGITS})?){SPACE}*{SECOND})?)"
)
DEGREES_AND_MINUTES = f"(?P<degrees>{DIGITS}){SPACE}*{DEGREE}{SPACE}*{_MINUTES}"
_ANGLE = spelling.signed(
    f"(?P<number>{spelling.number()})(?:{SPACE}*{DEGREE})?"
    f"|(?:(?P<degrees>{DIGITS}){SPACE}*{DEGREE}{SPACE}*)?{_MINUTES}"
)

ANGLE_PATTERN = spelling.published(_ANGLE)
"""ECMA-262 pattern of every text that `parse_angle` reads, size and mixed numbers aside."""

_match = re.compile(_ANGLE).fullmatch


def parse_angle(text: str) -> float:
    """The angle in radians that the text states in degrees, or in degrees, minutes and seconds.

    The sign holds for the whole text: -0°15' is a quarter of a degree below zero. Raises
    QuantityError.
    """
    return ANGLES[text]


def _parse_angle(text: str) -> float:
    angle = _radians(text)
    if angle is None:
        raise refusal(text, _SUBJECT, _reads_angle, ANGLE_CHECKS)
    return angle


ANGLES = TextMemory(_parse_angle)
"""Radians by text, for those who read many texts: `parse_angle` without a call."""


def _reads_angle(text: str) -> bool:
    try:
        return _radians(text) is not None
    except QuantityError:
        return False


def _radians(text: str) -> float | None:
    """None when the grammar does not match; QuantityError when only the numbers are wrong."""
    match = None if len(text) > LONGEST_TEXT else _match(text)
    if match is None:
        return None
    sign, number, degrees, minutes, part, seconds = match.groups()
    if number is not None:
        return radians_within_bound(*ratio(number, text), sign, text)
    return radians_of_parts((degrees, minutes, part, seconds), sign, text)


Parts = tuple[str | None, str, str | None, str | None]
"""Degrees, whole minutes, decimals of a minute with their point, seconds."""


def radians_of_parts(parts: Parts, sign: str | None, text: str) -> float:
    """Signed radians from the parts of an angle as the grammar has matched them."""
    degrees, minutes, part, seconds = parts
    numerator, denominator = ratio(minutes + (part or ""), text)
    if seconds:
        more, below = ratio(seconds, text)
        numerator, denominator = numerator * 60 * below + more, 60 * below
    denominator *= 60
    return radians_within_bound(
        numerator + int(degrees or 0) * denominator, denominator, sign, text
    )


def radians_within_bound(numerator: int, denominator: int, sign: str | None, text: str) -> float:
    """Signed radians from a ratio in degrees.

    Raises QuantityError beyond 360 degrees.
    """
    if numerator > LARGEST_ANGLE * denominator:
        raise QuantityError(
            f"{quoted(text)} is more than {LARGEST_ANGLE} degrees",
            f"check the number; angles up to “{LARGEST_ANGLE}°” are read",
        )
    return radians((-numerator if sign and sign != "+" else numerator) / denominator)


_DEGREE_MARK = r"(?:°|\bdeg(?:rees?)?\b|(?<=[0-9])deg(?:rees?)?)"


def _sixties(text: str, _subject: Subject) -> Fault | None:
    advice = "write whole degrees and less than 60 minutes and seconds, as in “0°15'30\"”"
    for name, mark in (("minutes", "(?:'|min)"), ("seconds", '(?:"|sec)')):
        found = re.search(rf"([0-9]+)(?:\.[0-9]+)? *{mark}", text.lower())
        if found and int(found[1]) > 59:
            return Fault(f"has 60 {name} or more", (), advice)
    return None


def _lone_seconds(text: str, _subject: Subject) -> Fault | None:
    if not re.search('"|sec', text.lower()) or re.search("'|min", text.lower()):
        return None
    advice = "write minutes before seconds, as in “0°0'30\"”, or a decimal, as in “0.25°”"
    return Fault("has a mark of seconds or inches without minutes before it", (), advice)


def _no_mark(text: str, _subject: Subject) -> Fault | None:
    found = re.fullmatch(rf"(.*(?:{_DEGREE_MARK}|'|min)) *([0-9.]+)", text.lower())
    if not found:
        return None
    decimal = re.sub(rf" *{_DEGREE_MARK} *", ".", text.lower())
    what = f"has “{found[2]}” without a mark behind it"
    meant = (f"{text}'", f'{text}"', f"{decimal}°")
    return Fault(what, meant, "write an angle like “0°15'30\"” or “0.25°”")


def _broken_degrees(text: str, _subject: Subject) -> Fault | None:
    if not re.search(rf"(?:[./][0-9]+|{VULGAR}) *{_DEGREE_MARK} *[0-9].*(?:'|min)", text.lower()):
        return None
    advice = "write whole degrees before minutes, as in “0°15'”"
    return Fault("has a part of a degree before its minutes", (), advice)


def _broken_minutes(text: str, _subject: Subject) -> Fault | None:
    if not re.search(f"""(?:/ *[0-9]+|{VULGAR}) *(?:'|min|"|sec)""", text.lower()):
        return None
    advice = "write decimals, as in “0°7.5'”"
    return Fault("has a fraction of a minute or second", (), advice)


_SUBJECT = Subject("an angle", ("0.25", "0°15'", "3 1/2", "-0.25 deg"))
_ANGLE_WORDS = ("deg", "degree", "degrees", "min", "sec")
SIXTIETHS_CHECKS = (_sixties, _no_mark, _broken_degrees, _broken_minutes)
ANGLE_CHECKS = (
    zero_denominator,
    slope_where_none_is_wanted,
    other_kind("", [word for word in UNIT_SPELLINGS if word.isalpha()], "a length"),
    unknown_unit(_ANGLE_WORDS, "° or deg, ' for minutes and \" for seconds"),
    *SYMBOL_CHECKS,
    *SIXTIETHS_CHECKS,
    _lone_seconds,
    *NUMBER_CHECKS,
)
