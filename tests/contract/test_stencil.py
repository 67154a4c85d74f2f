"""A stencil has the JSON of its struct with each gap filled by what was given for it."""

from math import inf, nan
from typing import Any

import msgspec
import pytest

from service.contract.finite import NotFiniteError
from service.contract.stencil import Stencil, number_gap, settled_gap, words_gap


class Wheel(msgspec.Struct):
    size: float
    name: str
    play: float


def stencil() -> Stencil:
    name: Any = words_gap(0)
    return Stencil(Wheel(number_gap(0), name, settled_gap(0)), settled=1, numbers=1)


def test_each_gap_is_filled_by_what_is_given_for_it() -> None:
    expected = msgspec.json.encode(Wheel(1.5, "left", 0.25))
    assert stencil().filled((0.25,), [1.5], [b'"left"']) == expected


def test_settled_numbers_that_come_again_change_nothing() -> None:
    one = stencil()
    for turn in range(6):
        for play in (0.25, 0.5):
            expected = msgspec.json.encode(Wheel(turn / 8, "r", play))
            assert one.filled((play,), [turn / 8], [b'"r"']) == expected


@pytest.mark.parametrize("wrong", [nan, inf, -inf])
def test_a_number_that_is_not_finite_is_refused(wrong: float) -> None:
    one = stencil()
    for _ in range(3):
        with pytest.raises(NotFiniteError):
            one.filled((0.25,), [wrong], [b'"left"'])
        with pytest.raises(NotFiniteError):
            one.filled((wrong,), [0.25], [b'"left"'])


def test_finite_numbers_whose_sum_is_not_are_let_through() -> None:
    expected = msgspec.json.encode(Wheel(1.7e308, "left", 1.7e308))
    assert stencil().filled((1.7e308,), [1.7e308], [b'"left"']) == expected


def test_what_looks_like_a_gap_in_a_text_is_a_text() -> None:
    wheel = Wheel(number_gap(0), "\x01n0\x01", settled_gap(0))
    found = Stencil(wheel, settled=1, numbers=1).filled((2.0,), [1.0], [])
    assert msgspec.json.decode(found, type=Wheel) == Wheel(1.0, "\x01n0\x01", 2.0)
