"""What texts mean, kept for the next time that they are written."""

from collections.abc import Callable

MOST_TEXTS = 16_384
"""How many texts one memory keeps, of some 200 bytes each: a tape's length in 1/32 in is 9,600."""


class TextMemory(dict[str, float]):
    """`memory[text]` is the number that a text means, read at most once while it is kept.

    A subscript costs a third of a call to a cached function. Whatever `read` raises for a text
    that means nothing goes to the asker, and nothing is kept of it.
    """

    __slots__ = ("_read",)

    def __init__(self, read: Callable[[str], float]) -> None:
        super().__init__()
        self._read = read

    def __missing__(self, text: str) -> float:
        value = self._read(text)
        if len(self) >= MOST_TEXTS:
            self.clear()
        self[text] = value
        return value
