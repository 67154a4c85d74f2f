"""Solved numbers to the estimates of an answer: unit, expanded uncertainty, basis, words."""

import math
from typing import NamedTuple

from service.contract.estimates import Basis, Estimate, EstimateUnit
from service.contract.vehicle import LengthUnit
from service.geometry.pattern import Pattern
from service.geometry.solve import Solved
from service.geometry.wording import estimate_words, length_words

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

    __slots__ = ("denominator", "length", "per_metre", "text", "unit")

    def __init__(self, unit: LengthUnit, denominator: int, text: bool) -> None:
        self.unit = unit.value
        self.length = UNIT[unit]
        self.per_metre = METRE[unit]
        self.denominator = denominator
        self.text = text

    def words(self, quantity: str, value: float) -> str:
        """Display text of a value in SI, empty where no texts are wanted."""
        if not self.text:
            return ""
        return estimate_words(quantity, value, self.unit, self.denominator)


def clean(value: float) -> float:
    """A number as it is answered: rounded beyond sense, and zero without a sign.

    Adding a number that leaves no room for a fraction rounds to whole ones; `round` takes six times
    as long. Above some 2,000 there is less room yet, and less than a part in 1e15 is lost.
    """
    return (value * TENS + NO_FRACTION - NO_FRACTION) / TENS


class Form(NamedTuple):
    """The part of an estimate that its quantity settles, in the units of the answer."""

    name: str
    factor: float
    unit: EstimateUnit
    basis: Basis


def estimates_of(solved: Solved, scale: Scale) -> list[Estimate]:
    """One estimate for each quantity of the pattern, in its order."""
    words, unit, denominator = scale.text, scale.unit, scale.denominator
    return [
        Estimate(
            (value * factor * TENS + NO_FRACTION - NO_FRACTION) / TENS,  # `clean`, without a call
            unit_of,
            COVERAGE * u * factor,
            basis,
            estimate_words(name, value, unit, denominator) if words else "",
        )
        for (name, factor, unit_of, basis), value, u in zip(
            _forms(solved.pattern, scale), solved.values, solved.uncertainties, strict=True
        )
    ]


def _forms(pattern: Pattern, scale: Scale) -> list[Form]:
    key = ("estimate forms", scale.unit)
    forms: list[Form] | None = pattern.kept.get(key)
    if forms is None:
        forms = pattern.kept[key] = [
            Form(
                quantity.name,
                scale.per_metre if quantity.length else RADIAN,
                scale.length if quantity.length else EstimateUnit.DEGREE,
                Basis.MEASURED if quantity.measured else Basis.PARTLY_ASSUMED,
            )
            for quantity in pattern.quantities
        ]
    return forms


def given_length(metres: float, scale: Scale) -> Estimate:
    """A length that was stated, not solved, as an estimate without uncertainty."""
    return Estimate(
        value=clean(metres * scale.per_metre),
        unit=scale.length,
        uncertainty=0.0,
        basis=Basis.MEASURED,
        text=length_words(metres, scale.unit, scale.denominator) if scale.text else "",
    )
