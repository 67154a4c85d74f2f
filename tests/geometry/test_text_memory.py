"""What a memory of texts keeps, and when it lets go."""

import pytest

from service.geometry.quantity import QuantityError
from service.geometry.text_memory import MOST_TEXTS, TextMemory


def test_a_text_is_read_once() -> None:
    asked: list[str] = []

    def read(text: str) -> float:
        asked.append(text)
        return float(text)

    memory = TextMemory(read)
    assert [memory["1.5"], memory["2.5"], memory["1.5"]] == [1.5, 2.5, 1.5]
    assert asked == ["1.5", "2.5"]


def test_a_memory_that_is_full_starts_afresh() -> None:
    memory = TextMemory(float)
    for number in range(MOST_TEXTS + 1):
        assert memory[str(number)] == number
        assert len(memory) <= MOST_TEXTS
    assert list(memory) == [str(MOST_TEXTS)]


def test_what_a_text_is_refused_for_is_raised_each_time_and_not_kept() -> None:
    def refuse(text: str) -> float:
        raise QuantityError(f"{text} is nothing", "write something")

    memory = TextMemory(refuse)
    for _ in range(2):
        with pytest.raises(QuantityError, match="x is nothing"):
            memory["x"]
    assert not memory
