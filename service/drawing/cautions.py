"""How to work safely, and what to know before acting on the numbers."""

from collections.abc import Sequence

from service.drawing.page import Item, Items, Text
from service.drawing.subject import Caution
from service.drawing.words import Words

ALWAYS = ("chock", "stands", "fingers", "torque", "remeasure", "road_test", "defer")
"""Printed on every sheet (US Navy NAVEDTRA 14050A; Freightliner 108SD and Landoll manuals)."""

_OF_VEHICLE = frozenset({"work-safely"})
"""Codes that the standing list says at greater length."""


def cautions_block(cautions: Sequence[Caution], words: Words) -> Items:
    """What this vehicle's readings call in doubt, then what always holds."""
    items = [Item(Text(_told(one, words), strong=True)) for one in cautions if _is_told(one)]
    items += [Item(Text(words.say(f"safety.{name}"))) for name in ALWAYS]
    return Items("dash", items)


def _is_told(caution: Caution) -> bool:
    return caution.code not in _OF_VEHICLE


def _told(caution: Caution, words: Words) -> str:
    try:
        text = words.say(f"caution.{caution.code}", axle=caution.axle)
    except KeyError:
        # A code that is newer than the catalogue: better in the contract's word than left out.
        text = caution.code
    return text
