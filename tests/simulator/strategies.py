"""The same recipes, thrown by hypothesis, so that a failing vehicle shrinks to a small one."""

from collections.abc import Sequence
from typing import TypeVar

from hypothesis import strategies as st

from simulator.fleet import Case, random_case, random_vehicle, usual_case
from simulator.vehicle import Vehicle

T = TypeVar("T")


class DrawnDice:
    """Dice whose throws hypothesis draws."""

    def __init__(self, draw: st.DrawFn) -> None:
        self._draw = draw

    def uniform(self, low: float, high: float, /) -> float:
        return self._draw(st.floats(low, high))

    def randint(self, low: int, high: int, /) -> int:
        return self._draw(st.integers(low, high))

    def choice(self, options: Sequence[T], /) -> T:
        return self._draw(st.sampled_from(options))


@st.composite
def vehicles(draw: st.DrawFn, unit: str | None = None) -> Vehicle:
    """Vehicles of one kind, or of every kind."""
    return random_vehicle(DrawnDice(draw), unit)


@st.composite
def cases(draw: st.DrawFn, unit: str | None = None) -> Case:
    """Vehicles with any reading set."""
    return random_case(DrawnDice(draw), unit)


@st.composite
def usual_cases(draw: st.DrawFn, unit: str | None = None) -> Case:
    """Vehicles with the readings that a yard usually takes."""
    return usual_case(DrawnDice(draw), unit)
