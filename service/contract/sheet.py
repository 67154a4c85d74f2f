"""JSON in parts, and what is put between each two of them."""

from collections.abc import Callable, Sequence
from operator import itemgetter
from typing import TypeVar

T = TypeVar("T")


def picker(places: Sequence[int]) -> Callable[[Sequence[T]], tuple[T, ...]]:
    """Takes what stands at some places, in their order."""
    if len(places) > 1:
        return itemgetter(*places)
    # Of one place alone the getter would give the thing itself instead of a tuple.
    return lambda things: tuple(things[place] for place in places)


class Sheet:
    """JSON in parts, and which of the pieces that are given goes between each two of them."""

    __slots__ = ("_parts", "_pick", "places")

    def __init__(self, between: Sequence[bytes], places: Sequence[int]) -> None:
        self.places = places
        self._pick: Callable[[Sequence[bytes]], tuple[bytes, ...]] = picker(places)
        self._parts = [b""] * (2 * len(places) + 1)
        self._parts[::2] = between

    def filled(self, pieces: Sequence[bytes]) -> bytes:
        """The JSON with its gaps filled."""
        return self.joined(self._pick(pieces))

    def joined(self, row: Sequence[bytes], before: bytes = b"", after: bytes = b"") -> bytes:
        """The same by a piece for each gap in its order, with more before and after it."""
        parts = self._parts.copy()
        parts[1::2] = row
        if before:
            parts[0] = before + parts[0]
            parts[-1] += after
        return b"".join(parts)

    def closed(self, first: Sequence[bytes]) -> "Sheet":
        """A sheet to which the first pieces need not be given any more."""
        between, places = [self._parts[0]], list[int]()
        for place, after in zip(self.places, self._parts[2::2], strict=True):
            if place < len(first):
                between[-1] += first[place] + after
            else:
                between.append(after)
                places.append(place - len(first))
        return Sheet(between, places)
