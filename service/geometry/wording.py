"""Quantities to the words that a person reads: a rounded magnitude and its direction.

A value is first rounded to whole steps of its scale, and the direction is taken from the steps, so
that no text says "right" of a value that it shows as zero. A value halfway between two steps goes
to the larger magnitude, on both sides alike; halves of what a scale reads fall there often, and
float noise must not make them flicker.
"""

from functools import lru_cache
from math import gcd, pi

HALF = 0.5 + 1e-9
"""Added to the magnitude of steps, whose whole part is then the nearest step."""

_STEPS_PER_METRE = {"mm": 10_000.0, "cm": 10_000.0}
_INCHES_PER_METRE = 1 / 0.0254
_HUNDREDTHS_PER_RADIAN = 18_000 / pi

_AIMS = ("right", "left", "straight ahead")
_MORE = ("more on the right", "more on the left", "equal on both sides")
_LONGER = ("longer on the right", "longer on the left", "equal on both sides")
_TOE = ("toe-in", "toe-out", "")
_TILT = ("positive", "negative", "")
_FURTHER_BACK = ("right end further back", "left end further back", "square")
_THICK_END = ("thick end to the rear", "thick end to the front", "no taper")
_SCRUB = (
    "rear axle aims right of the front one",
    "rear axle aims left of the front one",
    "parallel",
)

DIRECTIONS = {
    "offset": ("right", "left", "centred"),
    "offset_difference": _MORE,
    "thrust": _AIMS,
    "thrust_difference": ("aims right", "aims left", "aims straight ahead"),
    "toe": _TOE,
    "toe_length": _TOE,
    "toe_left": _TOE,
    "toe_right": _TOE,
    "setback": _FURTHER_BACK,
    "skew": _FURTHER_BACK,
    "kingpin_difference": _LONGER,
    "camber_left": _TILT,
    "camber_right": _TILT,
    "cross_camber": _MORE,
    "caster_left": _TILT,
    "caster_right": _TILT,
    "cross_caster": _MORE,
    "wedge_left": _THICK_END,
    "wedge_right": _THICK_END,
    "wedge_difference": _MORE,
    "scrub": _SCRUB,
    "span_difference": _LONGER,
}
"""By quantity, the words for a value above, below and at zero."""

LENGTHS = frozenset(
    {
        "offset", "offset_difference", "thrust_difference", "toe_length", "setback",
        "kingpin_difference", "span_difference",
    }
)  # fmt: skip
"""The quantities in metres; all others are in radians."""

MOST_SAID = 1024
"""So many texts of one quantity are kept, of 100 bytes or so each; then all are made anew."""

_APART_BY_COMMA = frozenset(
    {"thrust_difference", "setback", "skew", "wedge_left", "wedge_right", "scrub"}
)


def estimate_words(quantity: str, value: float, unit: str, denominator: int) -> str:
    """The display text of an estimate, e.g. `1/8 in right`, from metres or radians.

    `unit` is `in`, `mm` or `cm` and of no effect on an angle, which is written in degrees.
    `denominator` is that of the smallest step in inches. Raises KeyError for a quantity without
    words, ValueError for a NaN and OverflowError for an infinite value.
    """
    per, said = spoken(quantity, unit, denominator)
    return said[int(value * per + (HALF if value >= 0.0 else -HALF))]


def direction_words(quantity: str, value: float) -> str:
    """The direction alone, e.g. `right`; give it a rounded value, since it looks at the sign only.

    Empty where a zero needs no word. Raises KeyError for a quantity without words.
    """
    above, below, at_zero = DIRECTIONS[quantity]
    return above if value > 0 else below if value < 0 else at_zero


def length_words(metres: float, unit: str, denominator: int = 32) -> str:
    """The magnitude of a length: `3 5/16 in` to the nearest step, `3.2 mm`, `0.32 cm`.

    Raises ValueError for a NaN and OverflowError for an infinite value.
    """
    per_metre = denominator * _INCHES_PER_METRE if unit == "in" else _STEPS_PER_METRE[unit]
    return _length_magnitude(int(abs(metres) * per_metre + HALF), unit, denominator)


def angle_words(radians: float) -> str:
    """The magnitude of an angle in degrees with two decimals: `0.25°`.

    Raises ValueError for a NaN and OverflowError for an infinite value.
    """
    return _angle_magnitude(int(abs(radians) * _HUNDREDTHS_PER_RADIAN + HALF))


class Said(dict[int, str]):
    """The display texts of one quantity by signed steps of its scale, made when asked for first."""

    def __init__(self, quantity: str, unit: str, denominator: int) -> None:
        super().__init__()
        self.quantity = quantity
        self.unit = unit
        self.denominator = denominator

    def __missing__(self, steps: int) -> str:
        if self.quantity in LENGTHS:
            magnitude = _length_magnitude(abs(steps), self.unit, self.denominator)
        else:
            magnitude = _angle_magnitude(abs(steps))
        if len(self) >= MOST_SAID:
            self.clear()
        text = self[steps] = _joined(self.quantity, magnitude, steps)
        return text


@lru_cache(maxsize=256)
def spoken(quantity: str, unit: str, denominator: int) -> tuple[float, Said]:
    """Steps of the scale of a quantity to a metre or radian, and its texts by them.

    The nearest step to a value is the whole part of the steps that it makes and HALF, away from 0.
    Raises KeyError for a quantity without words.
    """
    direction_words(quantity, 0.0)
    if quantity not in LENGTHS:
        return _HUNDREDTHS_PER_RADIAN, _said_of_angle(quantity)
    per_metre = denominator * _INCHES_PER_METRE if unit == "in" else _STEPS_PER_METRE[unit]
    return per_metre, Said(quantity, unit, denominator)


@lru_cache(maxsize=64)
def _said_of_angle(quantity: str) -> Said:
    return Said(quantity, "deg", 1)


def _joined(quantity: str, magnitude: str, steps: int) -> str:
    direction = direction_words(quantity, steps)
    if not steps:
        return direction or magnitude
    return f"{magnitude}{',' if quantity in _APART_BY_COMMA else ''} {direction}"


@lru_cache(maxsize=16_384)
def _length_magnitude(steps: int, unit: str, denominator: int) -> str:
    if unit == "mm":
        return f"{steps // 10}.{steps % 10} mm"
    if unit == "cm":
        return f"{steps // 100}.{steps % 100:02} cm"
    whole, part = divmod(steps, denominator)
    if not part:
        return f"{whole} in"
    shared = gcd(part, denominator)
    fraction = f"{part // shared}/{denominator // shared}"
    return f"{whole} {fraction} in" if whole else f"{fraction} in"


def _angle_magnitude(hundredths: int) -> str:
    return f"{hundredths // 100}.{hundredths % 100:02}°"
