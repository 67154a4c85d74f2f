"""Readings by name and as they were taken."""

from service.drawing.subject import Taken
from service.drawing.words import Words

THICK_ENDS = ("left_thick_end", "right_thick_end")
ANGLES = frozenset({"wheel_angle", "caster_sweep", "wedge"})


def reading_name(
    kind: str,
    axle: int,
    reference: int | None,
    side: str | None,
    words: Words,
    short: bool = False,
) -> str:
    """A reading with its place: `Sightline, axle 2`; the side and the other axle where they tell.

    `short` leaves out which axle carries the scale of a sightline.
    """
    say = words.say
    name = say(f"reading.{kind}")
    if kind == "axle_span" and reference is not None:
        return say("reading.between", name=name, front=reference, rear=axle)
    if side is not None:
        return say(f"reading.at.{side}", name=name, axle=axle)
    if kind == "sightline" and reference and not short:
        return say("reading.against", name=name, axle=axle, reference=reference)
    return say("reading.at", name=name, axle=axle)


def mark_name(name: str, words: Words) -> str:
    """What one value of a reading is called."""
    return words.say(f"mark.{name}")


def taken_words(taken: Taken, words: Words) -> str:
    """The values of a reading, letter by letter as they were taken."""
    parts = []
    for name, text in taken.marks:
        value = words.say(f"thick_end.{text}") if name in THICK_ENDS else text
        parts.append(words.say("reading.value", name=mark_name(name, words), value=value))
    return "; ".join(parts)
