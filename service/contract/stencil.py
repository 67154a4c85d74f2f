"""The JSON of an answer of one kind with gaps, and what fills them vehicle by vehicle.

Most of an answer is the same for every vehicle that is read alike: names, units, limits, sources. A
stencil is cut from the answer's own structs, with gaps where a vehicle's numbers and words go, so
that it has what the structs have and in their order; to fill it costs less than to make the structs
anew and to encode them.

Some numbers come again with every vehicle of one model, as uncertainties do. They are *settled*: a
stencil that has been filled with the same ones twice is kept with those gaps closed.
"""

import re
from collections.abc import Callable, Iterator, Sequence
from typing import Any

import msgspec

from service.contract.finite import require_finite_numbers
from service.contract.sheet import Sheet, picker
from service.geometry.latest import Latest

_encode = msgspec.json.Encoder().encode

_GAP = re.compile(rb"\x01([snw])(\d+)\x01")
"""JSON has no such byte: within strings it is written as an escape."""

MOST_SETTLED = 256
"""Stencils with closed gaps that are kept in all, of some 20 kB each with three axles."""


def settled_gap(place: int) -> Any:
    """A gap, in the place of a float, for the settled number that is given at a place."""
    return msgspec.Raw(b"\x01s%d\x01" % place)


def number_gap(place: int) -> Any:
    """A gap, in the place of a float, for the number that is given at a place."""
    return msgspec.Raw(b"\x01n%d\x01" % place)


def words_gap(place: int) -> Any:
    """A gap, in the place of any value, for the piece of JSON that is given at a place."""
    return msgspec.Raw(b"\x01w%d\x01" % place)


class Stencil:
    """A struct's JSON with gaps, for so many `settled` and other `numbers`."""

    __slots__ = ("_closed", "_numbers", "_open", "_row")

    def __init__(self, form: msgspec.Struct, settled: int, numbers: int) -> None:
        parts = _GAP.split(_encode(form))
        first = {b"s": 0, b"n": settled, b"w": settled + numbers}
        gaps = zip(parts[1::3], parts[2::3], strict=True)
        self._open = Sheet(parts[::3], [first[kind] + int(place) for kind, place in gaps])
        self._numbers = numbers
        self._row = [place - settled for place in self._open.places if place >= settled]
        self._closed: dict[tuple[float, ...], None] = {}

    def filled(
        self, settled: tuple[float, ...], numbers: Sequence[float], words: Sequence[bytes]
    ) -> bytes:
        """The JSON with its gaps filled.

        Raises `NotFiniteError` rather than write null for NaN or infinity.
        """
        require_finite_numbers(numbers)
        sheet = self.sheet(settled)
        if sheet is not None:
            return sheet.filled((*_written(numbers), *words))
        return self._open.filled((*_written(settled), *_written(numbers), *words))

    def rows(
        self, numbers: Sequence[Sequence[float]], words: Sequence[Sequence[bytes]]
    ) -> Iterator[tuple[bytes, ...]]:
        """What goes into the gaps of many answers, for `joined`: numbers and `words` by place.

        All numbers must be finite. The gaps of settled numbers are not among those of a row.
        """
        columns = [*map(_written, numbers), *words]
        return zip(*[columns[place] for place in self._row], strict=True)

    def sheet(self, settled: tuple[float, ...]) -> Sheet | None:
        """The sheet for settled numbers that have come before, None for those that are new.

        Raises `NotFiniteError` where one of them is NaN or infinite.
        """
        known = (self, settled)
        return _sheets.get(known) or self._look_again(known)

    def joined(
        self, settled: tuple[float, ...], row: Sequence[bytes], before: bytes, after: bytes
    ) -> bytes:
        """The JSON with its gaps filled by settled numbers that are new, and a row."""
        first, rest = _written(settled), iter(row)
        places = self._open.places
        pieces = [first[at] if at < len(first) else next(rest) for at in places]
        return self._open.joined(pieces, before, after)

    def numbers_in_row(self, place: int) -> list[int]:
        """Where a number stands in a row."""
        return [at for at, own in enumerate(self._row) if own == place]

    def words_in_row(self, place: int) -> list[int]:
        """Where a piece of words stands in a row."""
        return self.numbers_in_row(self._numbers + place)

    def row_from(self, other: "Stencil") -> Callable[[Sequence[bytes]], Sequence[bytes]]:
        """Takes a row of another stencil, which has all the same gaps and more, for this one's."""
        return picker(
            [
                other.numbers_in_row(place)[0]
                if place < self._numbers
                else other.words_in_row(place - self._numbers)[0]
                for place in self._row
            ]
        )

    def _look_again(self, known: "Known") -> Sheet | None:
        settled = known[1]
        require_finite_numbers(settled)
        if settled not in self._closed:
            if len(self._closed) >= MOST_NOTED:
                self._closed.clear()
            self._closed[settled] = None
            return None
        sheet = self._open.closed(_written(settled))
        _sheets.keep(known, sheet)
        return sheet


MOST_NOTED = 16
"""Settled numbers of one stencil that are remembered for having come once."""


Known = tuple[Stencil, tuple[float, ...]]

_sheets = Latest[Known, Sheet](MOST_SETTLED)


def _written(numbers: Sequence[float]) -> list[bytes]:
    """Each number as JSON has it; the encoder writes a list as fast as Python passes it on."""
    return _encode(numbers)[1:-1].split(b",") if numbers else []
