"""A memory of what was made last."""

from typing import TypeVar

K = TypeVar("K")
V = TypeVar("V")


class Latest(dict[K, V]):
    """At most so many entries, of which the oldest makes room for a new one.

    To look one up is as quick as with any dictionary, and does not make it younger.
    """

    __slots__ = ("_most",)

    def __init__(self, most: int) -> None:
        super().__init__()
        self._most = most

    def keep(self, key: K, value: V) -> K | None:
        """Keep an entry, in place of what its key had; the key that made room for it, if any."""
        gone = None
        if len(self) >= self._most and key not in self:
            gone = next(iter(self))
            del self[gone]
        self[key] = value
        return gone
