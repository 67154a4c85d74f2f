"""Why a text is no quantity: the first fault that a person would name, and how to write it right.

Only the failure path comes here, so that clear words cost a readable text nothing.
"""

import re
import unicodedata
from collections.abc import Callable, Iterable
from decimal import Decimal
from typing import NamedTuple

from service.geometry.quantity import LONGEST_TEXT, VULGAR_FRACTIONS, QuantityError, quoted


class Subject(NamedTuple):
    """The kind of quantity that was wanted."""

    noun: str
    examples: tuple[str, ...]
    """Texts that every unit of the request can read."""


class Fault(NamedTuple):
    """What is wrong, texts that may have been meant, and advice for when none of them is read."""

    what: str
    meant: tuple[str, ...]
    advice: str


Check = Callable[[str, Subject], Fault | None]
"""Looks for one kind of fault in a text in plain spelling."""

_PLAIN = str.maketrans(
    {
        **dict.fromkeys("\u00a0\u2009\u202f", " "),
        **dict.fromkeys("\u2010\u2011", "-"),
        **dict.fromkeys("\u2044\u2215", "/"),
        **dict.fromkeys("\u2018\u2019\u2032", "'"),
        **dict.fromkeys("\u201c\u201d\u2033", '"'),
        **dict.fromkeys("º˚", "°"),
    }
)


def plain(text: str) -> str:
    """The text with spaces, hyphens, slashes and marks in the spelling of a plain keyboard.

    A minus sign between numbers gets the room that tells it from a hyphen.
    """
    spelled = text.translate(_PLAIN).replace("''", '"').strip(" ")
    return re.sub("(?<=[^+\u2212 -]) *\u2212 *(?=.)", " - ", spelled).replace("\u2212", "-")


def refusal(
    text: str, subject: Subject, reads: Callable[[str], bool], checks: Iterable[Check]
) -> QuantityError:
    """The error for a text that the grammar does not match.

    `reads` tells whether a text is read as this subject; only such texts are put forward.
    `checks` are the subject's own, made after those of the characters.
    """
    if len(text) > LONGEST_TEXT:
        return _worded(text, _too_long(text, subject), reads)
    spelled = plain(text)
    for check in (*_CHARACTER_CHECKS, *checks):
        fault = check(spelled, subject)
        if fault is not None:
            return _worded(text, fault, reads)
    fault = Fault(f"is not spelled as {subject.noun}", (), _like(subject))
    return _worded(text, fault, reads)


def _worded(text: str, fault: Fault, reads: Callable[[str], bool]) -> QuantityError:
    readable = [quoted(candidate) for candidate in fault.meant if reads(candidate)]
    hint = f"write {' or '.join(readable)}" if readable else fault.advice
    return QuantityError(f"{quoted(text)} {fault.what}", hint)


def _like(subject: Subject) -> str:
    *others, last = (quoted(example) for example in subject.examples)
    return f"write {subject.noun} like {', '.join(others)} or {last}"


def _too_long(text: str, subject: Subject) -> Fault:
    what = f"has {len(text)} characters, and at most {LONGEST_TEXT} are read"
    return Fault(what, (re.sub(" +", " ", plain(text)),), _like(subject))


def empty(text: str, subject: Subject) -> Fault | None:
    return None if text else Fault("is empty", (), _like(subject))


def unseen_character(text: str, subject: Subject) -> Fault | None:
    unseen = [c for c in text if unicodedata.category(c) in _UNSEEN]
    if not unseen:
        return None
    name = _UNSEEN_NAMES.get(unseen[0], "a character that cannot be seen")
    meant = "".join(" " if c == "\t" else c for c in text if c == "\t" or c not in unseen)
    what = f"has {name} (U+{ord(unseen[0]):04X}) in it"
    return Fault(what, (meant.strip(" "),), f"take it out; {_like(subject)}")


_UNSEEN = {"Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"}
_UNSEEN_NAMES = {"\n": "a line break", "\r": "a line break", "\t": "a tab"}


def other_digits(text: str, subject: Subject) -> Fault | None:
    others = [c for c in text if c.isnumeric() and not c.isascii() and c not in VULGAR_FRACTIONS]
    if not others:
        return None
    meant = "".join(str(unicodedata.decimal(c, c)) for c in text)
    what = f"has “{others[0]}”, which is not a digit from 0 to 9"
    return Fault(what, (meant,), f"use the digits 0 to 9; {_like(subject)}")


def not_finite(text: str, subject: Subject) -> Fault | None:
    if not re.search(r"(?i)(?<![a-z])(?:nan|inf|infinity|null|none)(?![a-z])|∞", text):
        return None
    return Fault("is not a finite number", (), f"leave out what was not read; {_like(subject)}")


def exponent(text: str, subject: Subject) -> Fault | None:
    found = re.search(r"(?i)(?:[0-9]+\.?[0-9]*|\.[0-9]+)e[+-]?[0-9]+", text)
    if not found:
        return None
    power = int(found[0].lower().partition("e")[2])
    meant = f"{Decimal(found[0]):f}" if abs(power) < LONGEST_TEXT else ""
    whole_text = text[: found.start()] + meant + text[found.end() :]
    return Fault("is in exponent notation", (whole_text,), f"write it out; {_like(subject)}")


def comma(text: str, subject: Subject) -> Fault | None:
    if "," not in text:
        return None
    found = re.search(r"[0-9.]*,[0-9.,]*", text)
    if found is None:
        raise AssertionError("a comma that is not there")
    what, numbers = _comma_meanings(found[0])
    meant = tuple(text[: found.start()] + number + text[found.end() :] for number in numbers)
    return Fault(what, meant, f"use a decimal point and no commas; {_like(subject)}")


def _comma_meanings(number: str) -> tuple[str, tuple[str, ...]]:
    """What a number with commas in it may mean: `1,234` reads two ways, `31,75` one way."""
    if number.count(",") > 1 or "." in number.partition(",")[2]:
        return "has commas between its thousands", (number.replace(",", ""),)
    if "." in number:
        meant = number.replace(".", "").replace(",", ".")
        return "has a decimal comma and points between its thousands", (meant,)
    decimal = number.replace(",", ".")
    if re.fullmatch("[1-9][0-9]{0,2},[0-9]{3}", number):
        meanings = (number.replace(",", ""), decimal)
        return "has a comma that may part thousands or decimals", meanings
    return "has a decimal comma", (decimal,)


def several_signs(text: str, subject: Subject) -> Fault | None:
    if not re.match("[+-] *[+-]", text):
        return None
    return Fault("has more than one sign", (), f"write one sign or none; {_like(subject)}")


def misplaced_sign(text: str, subject: Subject) -> Fault | None:
    behind = re.fullmatch("(.*[^+ -]) *([+-])", text)
    if behind:
        meant = behind[2] + behind[1]
        return Fault("has its sign behind the number", (meant,), _like(subject))
    inside = re.search(r"(?<=[^+ -])(?: *\+ *| +-+ *|-+ +|--+)(?=[^+ -])", text)
    if not inside:
        return None
    before, after = text[: inside.start()], text[inside.end() :]
    what = "has a plus or minus sign between its parts"
    return Fault(what, (f"{before}-{after}", f"{before} {after}"), _like(subject))


_CHARACTER_CHECKS: tuple[Check, ...] = (
    empty, unseen_character, other_digits, not_finite, exponent, comma, several_signs,
    misplaced_sign,
)  # fmt: skip
