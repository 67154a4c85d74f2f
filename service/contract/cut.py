"""A struct's JSON cut into parts, with gaps between its values and within its texts.

It is the simpler of two ways to cut: `stencil.py` does so for whole answers, whose numbers may be
settled; here a gap may also stand amid a text, and one piece may fill many gaps.
"""

import re
from typing import Any

import msgspec

from service.contract.sheet import Sheet

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


def cut(form: msgspec.Struct) -> Sheet:
    """The JSON of a struct with gaps; none of its texts may be a client's own."""
    between = _GAP.split(_encode(form))
    return Sheet(between[::2], list(map(int, between[1::2])))
