"""The readings of a vehicle that is known, poured from its numbers when they are asked for."""

from collections.abc import Callable, Sequence
from typing import Any, NamedTuple, overload

from service.geometry.readings import FIRST, AxleSpan, KingpinSpan, Reading, SetbackSpan

_new: Callable[[Any, tuple[Any, ...]], Any] = tuple.__new__


SPANS = (AxleSpan, SetbackSpan, KingpinSpan)
"""Readings that state a spread, the third of their numbers."""


class Mould(NamedTuple):
    """A reading without its numbers, which stand from `start` to `end` among the vehicle's."""

    kind: type[Reading]
    before: tuple[Any, ...]
    start: int
    end: int
    after: tuple[Any, ...]


class Moulds:
    """The moulds of a row of readings, and where the spread of each axle that has one stands."""

    def __init__(self, readings: Sequence[Reading], start: int) -> None:
        self.each: list[Mould] = []
        self.spreads: dict[int, int] = {}
        for reading in readings:
            self.each.append(_mould(reading, start))
            if isinstance(reading, SPANS):
                for axle in spanned(reading):
                    self.spreads.setdefault(axle, start + 2)
            start += len(reading.numbers())


def _mould(reading: Reading, start: int) -> Mould:
    first, own = FIRST[type(reading)], len(reading.numbers())
    while own and reading[first + own - 1] is None:  # a baseline that is not stated
        own -= 1
    return Mould(type(reading), reading[:first], start, start + own, reading[first + own :])


def spanned(reading: AxleSpan | SetbackSpan | KingpinSpan) -> tuple[int, ...]:
    """The axles between whose ends a span was taped, its spread apart."""
    return (reading.front, reading.rear) if isinstance(reading, AxleSpan) else (reading.axle,)


class Poured(Sequence[Reading]):
    """The readings of one vehicle in SI; of most of them nobody asks."""

    __slots__ = ("_found", "_moulds", "_numbers", "places")

    def __init__(self, moulds: Moulds, numbers: Sequence[float]) -> None:
        self._moulds = moulds
        self._numbers = numbers
        self._found: dict[int, Reading] = {}
        self.places = range(len(moulds.each))

    def __len__(self) -> int:
        return len(self.places)

    @overload
    def __getitem__(self, at: int) -> Reading: ...
    @overload
    def __getitem__(self, at: slice) -> list[Reading]: ...
    def __getitem__(self, at: int | slice) -> Reading | list[Reading]:
        if isinstance(at, slice):
            return [self[one] for one in self.places[at]]
        found = self._found.get(at)
        if found is None:
            kind, before, start, end, after = self._moulds.each[at]
            found = self._found[at] = _new(kind, (*before, *self._numbers[start:end], *after))
        return found

    @property
    def readings(self) -> Sequence[Reading]:
        """Themselves."""
        return self

    def spreads(self) -> dict[int, float]:
        """Between which points each axle was spanned, metres; the first reading of each counts."""
        return {axle: self._numbers[at] for axle, at in self._moulds.spreads.items()}
