"""The JSON of an answer of one kind with gaps, and what fills them vehicle by vehicle.

Most of an answer is the same for every vehicle that is read alike: names, units, limits, sources. A
stencil is cut from the answer's own structs, with gaps where a vehicle's numbers and words go, so
that it has what the structs have and in their order; to fill it takes a third of what it takes to
make the structs anew and to encode them.
"""

import re
from collections.abc import Sequence
from math import isfinite
from operator import itemgetter
from typing import Any

import msgspec

from service.contract.finite import NotFiniteError

_encode = msgspec.json.Encoder().encode

_GAP = re.compile(rb"\x01([nw])(\d+)\x01")
"""JSON has no such byte: within strings it is written as an escape."""


def number_gap(place: int) -> Any:
    """A gap, in the place of a float, for the number that is given at a place."""
    return msgspec.Raw(b"\x01n%d\x01" % place)


def words_gap(place: int) -> Any:
    """A gap, in the place of any value, for the piece of JSON that is given at a place."""
    return msgspec.Raw(b"\x01w%d\x01" % place)


class Stencil:
    """A struct's JSON with gaps, for so many `numbers`."""

    __slots__ = ("_parts", "_pick")

    def __init__(self, form: msgspec.Struct, numbers: int) -> None:
        parts = _GAP.split(_encode(form))
        gaps = zip(parts[1::3], parts[2::3], strict=True)
        places = [int(place) + (numbers if kind == b"w" else 0) for kind, place in gaps]
        if len(places) < 2:
            raise ValueError("a stencil has two gaps at least")
        self._pick = itemgetter(*places)
        self._parts = [b""] * (2 * len(places) + 1)
        self._parts[::2] = parts[::3]

    def filled(self, numbers: Sequence[float], words: Sequence[bytes]) -> bytes:
        """The JSON with its gaps filled.

        Raises `NotFiniteError` rather than write null for NaN or infinity.
        """
        if not isfinite(sum(numbers)) and not all(map(isfinite, numbers)):
            raise NotFiniteError("an answer holds a number that is not finite")
        # The encoder writes numbers a hundred at a time as fast as Python passes ten on.
        written = _encode(numbers)[1:-1].split(b",")
        parts = self._parts.copy()
        parts[1::2] = self._pick((*written, *words))
        return b"".join(parts)
