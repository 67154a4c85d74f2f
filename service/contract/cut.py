"""The JSON of a struct with gaps, some of them within its texts, and what fills them.

It is the smaller one of two: `stencil.py` serves whole answers and closes gaps that settle; here a
gap may also stand amid a text, and one piece may fill many gaps.
"""

import re
from collections.abc import Callable, Sequence
from operator import itemgetter
from typing import Any

import msgspec

_encode = msgspec.json.Encoder().encode

_GAP = re.compile(rb"(?:\x01|\\u0001)(\d+)(?:\x01|\\u0001)")
"""What no text of the service's own has, as it stands between values and within a text."""


def gap(place: int) -> Any:
    """A gap, in the place of any value, for the JSON that is given at a place."""
    return msgspec.Raw(b"\x01%d\x01" % place)


def text_gap(place: int) -> str:
    """A gap, as a text or a part of one, for the piece of JSON within quotes given at a place."""
    return f"\x01{place}\x01"


def inner(text: str) -> bytes:
    """A text as it stands within the quotes of JSON."""
    return _encode(text)[1:-1]


class Cut:
    """A struct's JSON with gaps; none of its texts may be a client's own."""

    __slots__ = ("_parts", "_pick")

    def __init__(self, form: msgspec.Struct) -> None:
        between = _GAP.split(_encode(form))
        places = list(map(int, between[1::2]))
        # Of one place alone the getter would give the piece itself instead of a tuple.
        self._pick = itemgetter(*places) if len(places) > 1 else _all_of(places)
        self._parts = between

    def filled(self, pieces: Sequence[bytes]) -> bytes:
        """The JSON with each gap filled by the piece at its place."""
        parts = self._parts.copy()
        parts[1::2] = self._pick(pieces)
        return b"".join(parts)


def _all_of(places: list[int]) -> Callable[[Sequence[bytes]], Sequence[bytes]]:
    return lambda pieces: [pieces[place] for place in places]
