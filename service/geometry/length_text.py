"""Lengths as people write them, to metres."""

import re
from functools import lru_cache, partial

from service.geometry import spelling
from service.geometry.quantity import (
    LONGEST_TEXT,
    TENTH_MILLIMETRES,
    QuantityError,
    quoted,
    ratio,
)
from service.geometry.refusal import Fault, Subject, plain, refusal
from service.geometry.refusal_of_numbers import (
    NUMBER_CHECKS,
    SYMBOL_CHECKS,
    other_kind,
    slope_where_none_is_wanted,
    unknown_unit,
    zero_denominator,
)
from service.geometry.spelling import DIGITS, FOOT, HYPHEN, INCH, METRIC, SPACE, UP_TO_11
from service.geometry.text_memory import TextMemory

LONGEST_LENGTH = 100
"""Metres; no road vehicle is longer, so that a longer text is a slip of the unit."""

_FEET_AND_INCHES = (
    f"(?P<feet>{DIGITS}){SPACE}*{FOOT}(?:{SPACE}*|{HYPHEN}|{SPACE}+{HYPHEN}{SPACE}+)"
    f"(?P<inches>{spelling.number(UP_TO_11)})(?:{SPACE}*{INCH})?"
)
_ONE_UNIT = f"(?P<number>{spelling.number()})(?:{SPACE}*(?P<unit>{INCH}|{FOOT}|{METRIC}))?"
_LENGTH = spelling.signed(f"{_FEET_AND_INCHES}|{_ONE_UNIT}")

LENGTH_PATTERN = spelling.published(_LENGTH)
"""ECMA-262 pattern of every text that `parse_length` reads, size and mixed numbers aside."""

TAPE_PATTERN = spelling.published(spelling.unsigned(f"{_FEET_AND_INCHES}|{_ONE_UNIT}"))
"""The same without a sign, for what is never negative; `parse_tape` reads these."""

_match = re.compile(_LENGTH).fullmatch

UNIT_SPELLINGS = {
    **dict.fromkeys(
        ("in", "in.", "inch", "inches", '"', "″", "”", "“", "''", "′′", "’’"),
        TENTH_MILLIMETRES["in"],
    ),
    **dict.fromkeys(("ft", "ft.", "foot", "feet", "'", "′", "’", "‘"), TENTH_MILLIMETRES["ft"]),
    **{unit: TENTH_MILLIMETRES[unit] for unit in ("mm", "cm", "m")},
}


def parse_length(text: str, unit: str) -> float:
    """The nearest float to the exact length in metres that the text states.

    `unit` (`in`, `mm` or `cm`) holds for a text without its own. Raises QuantityError.
    """
    return LENGTHS[unit][text]


def _parse_length(unit: str, text: str) -> float:
    metres = _metres(text, unit)
    if metres is None:
        raise refusal(text, _SUBJECT, lambda meant: _reads_length(meant, unit), _CHECKS)
    return metres


LENGTHS = {unit: TextMemory(partial(_parse_length, unit)) for unit in TENTH_MILLIMETRES}
"""Metres by text for each unit, for those who read many texts: `parse_length` without a call."""


@lru_cache(maxsize=16_384)
def parse_tape(text: str, unit: str) -> float:
    """A length as `parse_length` reads it, where a tape or a diameter leaves no room for a sign.

    Raises QuantityError, also for a plus sign.
    """
    if _has_sign(text) and _matched(text):
        raise _signed_tape(text, unit)
    metres = _metres(text, unit)
    if metres is None:
        raise refusal(text, _SUBJECT, lambda meant: _reads_tape(meant, unit), _CHECKS)
    return metres


def _has_sign(text: str) -> bool:
    return plain(text).startswith(("+", "-"))


def _signed_tape(text: str, unit: str) -> QuantityError:
    unsigned = plain(text)[1:].strip()
    hint = f"write “{unsigned}” if that is what was read"
    return QuantityError(
        f"{quoted(text)} has a sign, and what a tape reads is never below zero",
        hint if _reads_length(unsigned, unit) else "read the tape again",
    )


def _reads_tape(text: str, unit: str) -> bool:
    return _reads_length(text, unit) and not _has_sign(text)


def _reads_length(text: str, unit: str) -> bool:
    """Whether `parse_length` reads the text."""
    try:
        return _metres(text, unit) is not None
    except QuantityError:
        return False


def _matched(text: str) -> re.Match[str] | None:
    return None if len(text) > LONGEST_TEXT else _match(text)


def _metres(text: str, unit: str) -> float | None:
    """None when the grammar does not match; QuantityError when only the numbers are wrong."""
    match = _matched(text)
    if match is None:
        return None
    sign, feet, inches, number, own_unit = match.groups()
    if feet is None:
        size = UNIT_SPELLINGS[own_unit.lower()] if own_unit else TENTH_MILLIMETRES[unit]
        numerator, denominator = ratio(number, text)
        numerator *= size
    else:
        numerator, denominator = ratio(inches, text)
        numerator = (numerator + 12 * int(feet) * denominator) * TENTH_MILLIMETRES["in"]
    return metres_within_bound(numerator, denominator, sign, text)


def metres_within_bound(numerator: int, denominator: int, sign: str | None, text: str) -> float:
    """Signed metres from a ratio in tenths of a millimetre, rounded once.

    Raises QuantityError beyond 100 m.
    """
    denominator *= 10_000
    if numerator > LONGEST_LENGTH * denominator:
        raise QuantityError(
            f"{quoted(text)} is longer than {LONGEST_LENGTH} m",
            f"check the number and its unit; lengths up to “{LONGEST_LENGTH} m” are read",
        )
    return (-numerator if sign and sign != "+" else numerator) / denominator


_ANY_UNIT = re.compile(r"""[a-z]+|["']""", re.IGNORECASE)


def units_that_do_not_combine(text: str, subject: Subject) -> Fault | None:
    """Fault of two units that are not feet and then inches."""
    units = _ANY_UNIT.findall(text)
    sizes = [UNIT_SPELLINGS.get(unit.lower()) for unit in units]
    feet_and_inches = [TENTH_MILLIMETRES["ft"], TENTH_MILLIMETRES["in"]]
    if len(units) < 2 or sizes == feet_and_inches:
        return None
    what = f"has the units “{units[0]}” and “{units[1]}”, which do not combine"
    return Fault(what, (), f"write one unit, as in “{subject.examples[0]}”")


def _feet_and_inches(text: str, _subject: Subject) -> Fault | None:
    parts = re.fullmatch(r"""(.*[0-9]) *(?:ft\.?|foot|feet|')[ -]*([0-9].*)""", text.lower())
    if not parts:
        return None
    advice = "write feet as a whole number and less than 12 inches, as in “2' 7 3/4\"”"
    if not re.fullmatch("[+-]? *[0-9]+", parts[1]):
        return Fault("has feet before inches that are not a whole number", (), advice)
    inches = re.match("[0-9]+(?! */|[0-9])", parts[2])
    if inches and int(inches[0]) > 11:
        return Fault("has 12 inches or more behind the feet", (), advice)
    return None


_SUBJECT = Subject("a length", ("31 3/4", "31-3/4 in", "2' 7 3/4\"", "806.5 mm"))
_CHECKS = (
    zero_denominator,
    other_kind("°", ("deg", "degree", "degrees", "min", "sec"), "an angle"),
    slope_where_none_is_wanted,
    unknown_unit(UNIT_SPELLINGS, "in, ft, mm, cm and m"),
    *SYMBOL_CHECKS,
    units_that_do_not_combine,
    _feet_and_inches,
    *NUMBER_CHECKS,
)
