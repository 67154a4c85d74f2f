"""Solved numbers to the estimates of an answer: unit, expanded uncertainty, basis, words."""

import math
from functools import lru_cache
from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray

from service.contract.estimates import Basis, Estimate, EstimateUnit
from service.contract.vehicle import LengthUnit
from service.geometry.pattern import Pattern
from service.geometry.quantities import Quantity
from service.geometry.solve import Solved
from service.geometry.wording import HALF, Said, estimate_words, length_words, spoken

COVERAGE = 2.0
"""Coverage factor k of every uncertainty answered: about 95 % (JCGM 100, 6.2)."""

METRE = {LengthUnit.INCH: 1 / 0.0254, LengthUnit.MILLIMETRE: 1000.0, LengthUnit.CENTIMETRE: 100.0}
UNIT = {
    LengthUnit.INCH: EstimateUnit.INCH,
    LengthUnit.MILLIMETRE: EstimateUnit.MILLIMETRE,
    LengthUnit.CENTIMETRE: EstimateUnit.CENTIMETRE,
}
RADIAN = 180 / math.pi

TENS = 1e12
"""A number has 12 decimals: far below any reading, and they hide the last bit's noise."""

NO_FRACTION = 1.5 * 2**52


class Scale:
    """The units and words that one answer is written in."""

    __slots__ = ("denominator", "length", "name", "per_metre", "text", "unit")

    def __init__(self, unit: LengthUnit, denominator: int, text: bool) -> None:
        self.unit = unit.value
        self.length = UNIT[unit]
        self.per_metre = METRE[unit]
        self.denominator = denominator
        self.text = text
        self.name = f"{unit.value} {denominator}"

    def words(self, quantity: str, value: float) -> str:
        """Display text of a value in SI, empty where no texts are wanted."""
        if not self.text:
            return ""
        return estimate_words(quantity, value, self.unit, self.denominator)


@lru_cache(maxsize=512)
def scale_of(unit: LengthUnit, denominator: int, text: bool) -> Scale:
    """The scale of a request, one and the same for all that want it alike."""
    return Scale(unit, denominator, text)


Told = TypeVar("Told", float, NDArray[np.float64])


def clean(value: Told) -> Told:
    """A number, or an array of some, as answered: rounded beyond sense, and zero without a sign.

    Adding a number that leaves no room for a fraction rounds to whole ones; `round` takes six times
    as long. Above some 2,000 there is less room yet, and less than a part in 1e15 is lost.
    """
    return (value * TENS + NO_FRACTION - NO_FRACTION) / TENS


Form = tuple[float, float, EstimateUnit, Basis, float, Said]
"""The part of an estimate that its quantity settles: factors of value and uncertainty, unit, basis,
steps of the display scale to a metre or radian, and the texts by them. A plain tuple, as those are
taken apart fastest."""


class Forms:
    """What the quantities of a pattern settle of an answer in the units of one scale.

    `findings` are kept by built-in target set, None for a row that is to be restated.
    """

    __slots__ = ("estimates", "findings")

    def __init__(self, estimates: list[Form]) -> None:
        self.estimates = estimates
        self.findings: dict[str, list[Any]] = {}


def estimates_of(solved: Solved, scale: Scale) -> list[Estimate]:
    """One estimate for each quantity of the pattern, in its order."""
    forms = forms_of(solved.pattern, scale).estimates
    told = zip(forms, solved.values, solved.uncertainties, strict=True)
    # Written out, without calls of `clean` and `estimate_words`: these are the most of an answer.
    if not scale.text:
        return [
            Estimate(
                (v * factor * TENS + NO_FRACTION - NO_FRACTION) / TENS, unit, u * wide, basis, ""
            )
            for (factor, wide, unit, basis, _, _), v, u in told
        ]
    return [
        Estimate(
            (value * factor * TENS + NO_FRACTION - NO_FRACTION) / TENS,
            unit,
            u * wide,
            basis,
            said[int(value * per + (HALF if value >= 0.0 else -HALF))],
        )
        for (factor, wide, unit, basis, per, said), value, u in told
    ]


def forms_of(pattern: Pattern, scale: Scale) -> Forms:
    """The forms of a pattern for a scale, kept with the pattern."""
    forms: Forms | None = pattern.kept.get(scale.name)
    if forms is None:
        forms = pattern.kept[scale.name] = Forms(
            [_form(quantity, scale) for quantity in pattern.quantities]
        )
    return forms


def _form(quantity: Quantity, scale: Scale) -> Form:
    factor = scale.per_metre if quantity.length else RADIAN
    return (
        factor,
        COVERAGE * factor,
        scale.length if quantity.length else EstimateUnit.DEGREE,
        Basis.MEASURED if quantity.measured else Basis.PARTLY_ASSUMED,
        *spoken(quantity.name, scale.unit, scale.denominator),
    )


@lru_cache(maxsize=1024)
def given_length(metres: float, scale: Scale) -> Estimate:
    """A length that was stated, not solved, as an estimate without uncertainty."""
    return Estimate(
        value=clean(metres * scale.per_metre),
        unit=scale.length,
        uncertainty=0.0,
        basis=Basis.MEASURED,
        text=length_words(metres, scale.unit, scale.denominator) if scale.text else "",
    )
