"""The texts of readings as named components, and the words for one that cannot be read."""

from collections.abc import Callable
from functools import cache
from typing import Any

import msgspec

from service.contract import base
from service.geometry.angle_text import parse_angle
from service.geometry.length_text import parse_length, parse_tape
from service.geometry.quantity import QuantityError
from service.geometry.toe_text import parse_toe

_READERS: dict[str, Callable[[str], object]] = {
    "LengthText": lambda text: parse_length(text, "in"),
    "TapeText": lambda text: parse_tape(text, "in"),
    "AngleText": parse_angle,
    "ToeText": lambda text: parse_toe(text, "in"),
}
"""By component; the unit of a text without its own has no part in whether it can be read."""


@cache
def text_components() -> dict[str, dict[str, Any]]:
    """The schemas of the texts by the name of their alias in `base`."""
    return {name: msgspec.json.schema(getattr(base, name)) for name in _READERS}


def named_text(schema: dict[str, Any]) -> str | None:
    """Which of the texts a schema is; they are told apart by their patterns."""
    pattern = schema.get("pattern")
    if pattern is None:
        return None
    return next(
        (name for name, text in text_components().items() if text["pattern"] == pattern), None
    )


def fault_of_text(component: str, text: str) -> QuantityError | None:
    """Why a text is not one of a component's; None where that is no text of readings, or reads."""
    read = _READERS.get(component)
    try:
        if read is not None:
            read(text)
    except QuantityError as error:
        return error
    return None
