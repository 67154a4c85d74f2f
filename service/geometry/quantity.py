"""What every text of a quantity shares: its number, its refusal and the exact size of its unit."""

import re
from typing import NamedTuple

from service.geometry.spelling import HYPHEN, SLASH, SPACE, VULGAR

LONGEST_TEXT = 40
"""Characters; the wire bounds every text of a quantity at the same length."""

TENTH_MILLIMETRES = {"in": 254, "ft": 3048, "mm": 10, "cm": 100, "m": 10_000}
"""Every unit of length is a whole number of tenths of a millimetre: 1 in is 25.4 mm exactly."""

VULGAR_FRACTIONS = {
    "½": (1, 2), "⅓": (1, 3), "⅔": (2, 3), "¼": (1, 4), "¾": (3, 4),
    "⅕": (1, 5), "⅖": (2, 5), "⅗": (3, 5), "⅘": (4, 5), "⅙": (1, 6), "⅚": (5, 6),
    "⅐": (1, 7), "⅛": (1, 8), "⅜": (3, 8), "⅝": (5, 8), "⅞": (7, 8), "⅑": (1, 9), "⅒": (1, 10),
}  # fmt: skip

_FRACTION = re.compile(
    f"(?:([0-9]+)(?:{SPACE}+|{HYPHEN}|(?={VULGAR})))?"
    f"(?:([0-9]+){SPACE}*{SLASH}{SPACE}*([0-9]+)|({VULGAR}))"
)


class QuantityError(ValueError):
    """A text that is no quantity of the wanted kind.

    `reason` quotes the text and says what is wrong; `hint` says how to write it right, and
    whatever stands between typographic quotation marks in it is a text that will be read.
    """

    def __init__(self, reason: str, hint: str) -> None:
        super().__init__(f"{reason}: {hint}")
        self.reason = reason
        self.hint = hint


class Ratio(NamedTuple):
    """A number as two integers, so that one division rounds it once."""

    numerator: int
    denominator: int


def quoted(text: str) -> str:
    """The text between quotation marks, cut to 40 characters, with what cannot be seen escaped."""
    shown = text if len(text) <= LONGEST_TEXT else text[: LONGEST_TEXT - 1] + "…"
    return f"“{''.join(map(_visible, shown))}”"


def _visible(character: str) -> str:
    if character.isprintable():
        return character
    return " " if re.match(SPACE, character) else f"\\u{ord(character):04x}"


def ratio(number: str, text: str) -> Ratio:
    """The value of an unsigned number that the grammar has already matched.

    Raises QuantityError, quoting the whole text, for a mixed number whose fraction is 1 or more.
    """
    if number.isdecimal():
        return Ratio(int(number), 1)
    if "." in number:
        whole, _, decimals = number.partition(".")
        return Ratio(int(whole + decimals), 10 ** len(decimals))
    match = _FRACTION.fullmatch(number)
    if match is None:
        raise AssertionError(f"the grammar let {number!r} through")
    whole, over, under, vulgar = match.groups()
    numerator, denominator = VULGAR_FRACTIONS[vulgar] if vulgar else (int(over), int(under))
    if whole is None:
        return Ratio(numerator, denominator)
    if numerator >= denominator:
        raise _top_heavy(text, int(whole), numerator, denominator)
    return Ratio(int(whole) * denominator + numerator, denominator)


def _top_heavy(text: str, whole: int, numerator: int, denominator: int) -> QuantityError:
    more, left = divmod(numerator, denominator)
    right = f"{whole + more} {left}/{denominator}" if left else str(whole + more)
    return QuantityError(
        f"{quoted(text)} has a whole number beside a fraction that is not smaller than 1",
        f"read the scale again; {whole} and {numerator}/{denominator} make {right}",
    )
