"""Quantities, places, limits and verdicts as a person reads them, in one language and one unit.

Numbers look alike in every language: a decimal point, fractions of an inch, the symbol of the
unit. What is translated is the direction and the name.
"""

from functools import lru_cache
from math import floor

from service.geometry.wording import LENGTHS, angle_words, length_words
from service.locale.catalogue import Catalogue, catalogue

FAMILY = {
    "offset": "offset",
    "offset_difference": "more",
    "thrust": "aim",
    "thrust_difference": "aim_difference",
    "toe": "toe",
    "toe_length": "toe",
    "toe_left": "toe",
    "toe_right": "toe",
    "setback": "back",
    "skew": "back",
    "kingpin_difference": "longer",
    "camber_left": "tilt",
    "camber_right": "tilt",
    "cross_camber": "more",
    "caster_left": "tilt",
    "caster_right": "tilt",
    "cross_caster": "more",
    "wedge_left": "thick",
    "wedge_right": "thick",
    "wedge_difference": "more",
    "scrub": "scrub",
    "span_difference": "longer",
}
"""Quantities that share the words for a value above, below and at zero."""

NONCONFORMING = "nonconforming"


class Words:
    """Writes in one language; lengths in `unit` (`in`, `mm`, `cm`), inches to 1/`denominator`."""

    __slots__ = ("denominator", "say", "texts", "unit")

    def __init__(self, language: str, unit: str, denominator: int = 32) -> None:
        self.texts: Catalogue = catalogue(language)
        self.say = self.texts.say
        self.unit = unit
        self.denominator = denominator

    @property
    def language(self) -> str:
        """The language's tag."""
        return self.texts.language

    def length(self, metres: float) -> str:
        """The magnitude of a length."""
        return length_words(metres, self.unit, self.denominator)

    def size(self, quantity: str, value: float) -> str:
        """The magnitude of a quantity."""
        return self.length(value) if quantity in LENGTHS else angle_words(value)

    def signed(self, value: float, length: bool) -> str:
        """A magnitude with a minus sign where it is below zero."""
        text = self.length(value) if length else angle_words(value)
        return f"-{text}" if value < 0 and _shows_something(text) else text

    def estimate(self, quantity: str, value: float) -> str:
        """A value with its direction: `1/8 in right`."""
        size = self.size(quantity, value)
        way = "zero" if not _shows_something(size) else "above" if value > 0 else "below"
        return self.say(f"estimate.{FAMILY[quantity]}.{way}", size=size)

    def name(self, quantity: str) -> str:
        """What the quantity is called."""
        return self.say(f"quantity.{quantity}")

    def where(self, axle: int, reference: int | None = None) -> str:
        """An axle, or a pair with its front axle first."""
        if reference is None:
            return self.say("place.axle", axle=axle)
        return self.say("place.pair", front=reference, rear=axle)

    def limits(self, quantity: str, lower: float | None, upper: float | None) -> str:
        """Limits in words, signed."""
        length = quantity in LENGTHS
        if lower is None:
            if upper is None:
                return self.say("limits.none")
            return self.say("limits.at_most", high=self.signed(upper, length))
        if upper is None:
            return self.say("limits.at_least", low=self.signed(lower, length))
        low, high = self.signed(lower, length), self.signed(upper, length)
        return self.say("limits.between", low=low, high=high)

    def verdict(self, verdict: str) -> str:
        """The state in words."""
        return self.say(f"verdict.{verdict}")

    def probability(self, probability: float) -> str:
        """How likely it lies inside, never rounded up to certainty."""
        return self.say("probability", percent=_percent(probability))


@lru_cache(maxsize=64)
def words_of(language: str, unit: str, denominator: int = 32) -> Words:
    """The same words each time they are asked for."""
    return Words(language, unit, denominator)


@lru_cache(maxsize=4096)
def _shows_something(size: str) -> bool:
    return any(digit in "123456789" for digit in size.partition("°")[0])


def _percent(probability: float) -> str:
    """A percentage whose parts no end of a line parts."""
    if probability > 0.99:
        return ">\u00a099\u00a0%"
    if probability < 0.01:
        return "<\u00a01\u00a0%"
    return f"{floor(probability * 100 + 0.5)}\u00a0%"
