"""Figures of an answer: a number in its unit with the words that a person reads."""

from math import degrees

from service.contract.answer_estimates import METRE, UNIT, clean
from service.contract.figures import Figure, FigureUnit
from service.contract.vehicle import LengthUnit
from service.geometry.wording import length_words

_SPOKEN = {FigureUnit.DEGREE: "°"}


class Figures:
    """Writes the figures of one answer, with or without words."""

    def __init__(self, text: bool) -> None:
        self.text = text

    def plain(self, value: float, unit: FigureUnit, decimals: int) -> Figure:
        """A figure that has a size only."""
        return Figure(value=clean(value), unit=unit, text=self._size(value, unit, decimals))

    def sided(self, value: float, unit: FigureUnit, decimals: int) -> Figure:
        """A figure that points right where positive and left where negative."""
        text = self._size(abs(value), unit, decimals)
        if text and round(value, decimals):
            text += " right" if value > 0.0 else " left"
        return Figure(value=clean(value), unit=unit, text=text)

    def angle(self, radians: float, decimals: int = 2) -> Figure:
        """An angle in degrees that points right where positive."""
        return self.sided(degrees(radians), FigureUnit.DEGREE, decimals)

    def length(self, metres: float, unit: LengthUnit) -> Figure:
        """A length in the request's unit."""
        text = length_words(metres, unit.value) if self.text else ""
        value = clean(metres * METRE[unit])
        return Figure(value=value, unit=FigureUnit(UNIT[unit].value), text=text)

    def _size(self, value: float, unit: FigureUnit, decimals: int) -> str:
        if not self.text:
            return ""
        number = f"{value:.{decimals}f}"
        return f"{number}{_SPOKEN[unit]}" if unit in _SPOKEN else f"{number} {unit.value}"
