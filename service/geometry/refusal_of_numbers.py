"""Faults in how a text's numbers and units stand together; see `refusal`."""

import re
from collections.abc import Collection

from service.geometry.refusal import Check, Fault, Subject
from service.geometry.spelling import VULGAR

_LETTER = r"[^\W\d_¼-¾⅐-⅞]"
_WORD = re.compile(f"{_LETTER}+")


def _write(subject: Subject, example: int = 0) -> str:
    return f"write {subject.noun} like “{subject.examples[example]}”"


def zero_denominator(text: str, _subject: Subject) -> Fault | None:
    if not re.search("/ *0+(?![0-9])", text):
        return None
    return Fault("has a fraction over zero", (), "write a fraction like “3/32”")


def other_kind(marks: str, words: Collection[str], other: str) -> Check:
    """Check for the marks and unit words of another kind of quantity."""

    def check(text: str, subject: Subject) -> Fault | None:
        here = [c for c in text if c in marks]
        here += [word for word in _WORD.findall(text) if word.lower() in words]
        if not here:
            return None
        what = f"carries “{here[0]}” like {other}, and {subject.noun} is wanted"
        return Fault(what, (), _write(subject))

    return check


def slope_where_none_is_wanted(text: str, subject: Subject) -> Fault | None:
    if not re.search("(?i)mm */ *m", text):
        return None
    return Fault(f"is a slope, and {subject.noun} is wanted", (), _write(subject))


def unknown_unit(known: Collection[str], listed: str) -> Check:
    """Check for a word that is none of the units known; `listed` names these for people."""

    def check(text: str, subject: Subject) -> Fault | None:
        unknown = [word for word in _WORD.findall(text) if word.lower() not in known]
        if not unknown:
            return None
        what = f"has the unit “{unknown[0]}”, which is not known here"
        return Fault(what, (), f"units are {listed}; {_write(subject)}")

    return check


def no_number(text: str, subject: Subject) -> Fault | None:
    if re.search(f"[0-9]|{VULGAR}", text):
        return None
    return Fault("has no number in it", (), _write(subject))


def unit_first(text: str, subject: Subject) -> Fault | None:
    found = re.fullmatch(rf"""([+-]?) *({_LETTER}+\.?|["'°])(?![a-z]) *(.*)""", text)
    if not found:
        return None
    meant = f"{found[1]}{found[3]} {found[2]}"
    return Fault("has its unit before the number", (meant,), _write(subject))


def bare_point(text: str, _subject: Subject) -> Fault | None:
    if not re.search(r"(?<![a-zA-Z])\.(?![0-9])", text):
        return None
    without = re.sub(r"(?<![a-zA-Z])\.(?![0-9])", "", text)
    advice = "write what stands behind the point, as in “31.5”, or leave the point out"
    if re.search(r"[0-9]\.(?![0-9])", text):
        return Fault("has a decimal point without digits behind it", (without,), advice)
    return Fault("has a point that belongs to no number", (without,), advice)


def several_points(text: str, _subject: Subject) -> Fault | None:
    if not re.search(r"[0-9]*\.[0-9]+\.[0-9]", text):
        return None
    return Fault("has two decimal points in one number", (), "write one, as in “31.5”")


def point_in_fraction(text: str, _subject: Subject) -> Fault | None:
    if not re.search(rf"\.[0-9]+(?:[ -]+[0-9]+)? */|/ *[0-9]*\.|\.[0-9]+[ -]*{VULGAR}", text):
        return None
    advice = "write it as a decimal like “31.75” or as a fraction like “31 3/4”"
    return Fault("mixes a decimal point with a fraction", (), advice)


def broken_fraction(text: str, _subject: Subject) -> Fault | None:
    if re.search(r"/ *[0-9]+ */", text):
        return Fault("has two fraction bars", (), "write a fraction like “31 3/4”")
    if re.search(r"/ *(?![0-9 ])|(?<![0-9 ]) */", text):
        return Fault("has a fraction that lacks a number", (), "write a fraction like “31 3/4”")
    return None


def numbers_side_by_side(text: str, _subject: Subject) -> Fault | None:
    if not re.search(r"[0-9][ -]+[0-9.]", text):
        return None
    advice = "write one number, as in “31.75” or “31 3/4”"
    if re.search(r"[0-9]+[ -]+[0-9]+ */", text):
        return Fault("has more numbers than one mixed number", (), advice)
    thousands = re.sub("(?<=[0-9]) (?=[0-9]{3}(?![0-9]))", "", text)
    meant = () if thousands == text else (thousands,)
    return Fault("has two numbers side by side", meant, advice)


def strange_character(text: str, subject: Subject) -> Fault | None:
    strange = [c for c in text if not (c.isalnum() or c in "+-/.'\"° ")]
    if not strange:
        return None
    return Fault(f"has “{strange[0]}” in it", (), _write(subject))


SYMBOL_CHECKS: tuple[Check, ...] = (no_number, strange_character, unit_first)
"""To be made before those of a kind's own units."""

NUMBER_CHECKS: tuple[Check, ...] = (
    several_points, bare_point, point_in_fraction, broken_fraction, numbers_side_by_side,
)  # fmt: skip
"""To be made after them."""
