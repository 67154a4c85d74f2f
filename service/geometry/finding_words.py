"""Findings, assumptions and suspects in a sentence a technician reads at the truck."""

from functools import lru_cache

from service.geometry.wording import LENGTHS, angle_words, length_words

QUANTITY_NAMES = {
    "offset": "offset",
    "offset_difference": "side-to-side centring",
    "thrust": "thrust",
    "thrust_difference": "thrust as a side difference",
    "toe": "total toe",
    "toe_length": "total toe",
    "toe_left": "toe of the left wheel",
    "toe_right": "toe of the right wheel",
    "setback": "setback",
    "skew": "skew",
    "kingpin_difference": "squareness to the kingpin",
    "camber_left": "left camber",
    "camber_right": "right camber",
    "cross_camber": "camber from side to side",
    "caster_left": "left caster",
    "caster_right": "right caster",
    "cross_caster": "caster from side to side",
    "wedge_left": "left wedge",
    "wedge_right": "right wedge",
    "wedge_difference": "wedges from side to side",
    "scrub": "scrub",
    "span_difference": "spacing from side to side",
}

VERDICT_WORDS = {
    "conforming": "conforms with",
    "nonconforming": "does not conform with",
    "undetermined": "cannot be told for sure to conform with",
}


def finding_words(name: str, estimate: str, verdict: str, limits: str, probability: float) -> str:
    """One sentence: whose quantity (`name`), what was found, and how it stands to its limits."""
    likely = percent(probability)
    return f"{name} {estimate}; {VERDICT_WORDS[verdict]} {limits} ({likely} likely inside)."


def percent(probability: float) -> str:
    """Whole percent, never rounded up to certainty."""
    if probability > 0.99:
        return "over 99 %"
    if probability < 0.01:
        return "under 1 %"
    return f"{int(probability * 100 + 0.5)} %"


@lru_cache(maxsize=4096)
def where_words(axle: int, reference: int | None) -> str:
    """An axle, or a pair with its front axle first."""
    return f"Axle {axle}" if reference is None else f"Axles {reference} and {axle}"


@lru_cache(maxsize=4096)
def limits_words(
    quantity: str, lower: float | None, upper: float | None, unit: str, denominator: int
) -> str:
    """Limits in words, signed, from metres or radians: `-1/4 in to 1/4 in`, `at most 0.18°`."""

    def words(value: float) -> str:
        length = quantity in LENGTHS
        text = length_words(value, unit, denominator) if length else angle_words(value)
        return f"-{text}" if value < 0 and any(c in "123456789" for c in text) else text

    if lower is None and upper is None:
        return "no limits"
    if lower is None:
        return f"at most {words(upper or 0.0)}"
    if upper is None:
        return f"at least {words(lower)}"
    return f"{words(lower)} to {words(upper)}"
