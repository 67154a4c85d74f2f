"""Vehicle identification numbers: 17 characters and, in North America, a check digit.

49 CFR 565.15: letters stand for the values below (I, O and Q are not allowed), each position has
a weight, and the sum modulo 11 stands in position 9, ten written as X. ISO 3779 has no check
digit, so elsewhere a wrong one is worth a caution and no more.
"""

from enum import Enum

LENGTH = 17
CHECK_PLACE = 9
"""Position of the check digit, counted from 1."""

VALUES = dict(
    zip(
        "0123456789ABCDEFGHJKLMNPRSTUVWXYZ",
        map(int, "012345678912345678123457923456789"),
        strict=True,
    )
)
WEIGHTS = (8, 7, 6, 5, 4, 3, 2, 10, 0, 9, 8, 7, 6, 5, 4, 3, 2)
NORTH_AMERICA = "12345"
"""First characters that ISO 3780 gives to makers of the USA, Canada and Mexico (from memory)."""


class CheckDigit(Enum):
    """What the ninth character says of the others."""

    RIGHT = "right"
    WRONG = "wrong"
    NOT_A_DIGIT = "not_a_digit"


class VinError(ValueError):
    """A text that is no vehicle identification number; says what is wrong with it."""


def as_stored(text: str) -> str:
    """A VIN in capitals without blanks and hyphens, as it is stored and looked for."""
    return text.replace(" ", "").replace("-", "").upper()


def normal_vin(text: str) -> str:
    """The VIN as it is stored; VinError says what is wrong with one that is none."""
    vin = as_stored(text)
    for place, character in enumerate(vin, start=1):
        if character not in VALUES:
            likely = {"I": "1", "O": "0", "Q": "0 or 9"}.get(character)
            hint = f"; {likely} may be meant" if likely else ""
            raise VinError(f"Character {place}, {character!r}, cannot stand in a VIN{hint}.")
    if len(vin) != LENGTH:
        raise VinError(f"A VIN has {LENGTH} characters; this one has {len(vin)}.")
    return vin


def check_digit(vin: str) -> str:
    """The character that 49 CFR 565 wants in position 9 of a normal VIN."""
    total = sum(VALUES[c] * weight for c, weight in zip(vin, WEIGHTS, strict=True))
    return "0123456789X"[total % 11]


def check(vin: str) -> CheckDigit:
    """Whether the ninth character of a normal VIN is the check digit of the others."""
    found = vin[CHECK_PLACE - 1]
    if found not in "0123456789X":
        return CheckDigit.NOT_A_DIGIT
    return CheckDigit.RIGHT if found == check_digit(vin) else CheckDigit.WRONG


def is_north_american(vin: str) -> bool:
    """Whether the VIN's first character is of a country whose rule the check digit is."""
    return vin[0] in NORTH_AMERICA
