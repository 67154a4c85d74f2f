"""Writes what scales and tapes must show once a step of a plan is right."""

import math
from functools import lru_cache

from service.contract.answer_estimates import RADIAN, Scale, clean
from service.contract.estimates import EstimateUnit
from service.contract.intake import Intake
from service.contract.problems import pointer_to
from service.contract.readings import ReadingKind
from service.contract.solution import Expectation, ExpectedMark
from service.geometry.planning import expect as planning
from service.geometry.planning.words import HUNDREDTH, fitting, step_of
from service.geometry.readings import CasterSweep, Reading, ToeScale, Wedge, WheelAngle
from service.geometry.wording import angle_words, estimate_words, length_words

KINDS = {kind.value: kind for kind in ReadingKind}
ANGLED = (WheelAngle, CasterSweep, Wedge)
"""Readings in degrees."""


def expectation(expected: planning.Expectation, intake: Intake, scale: Scale) -> Expectation:
    """One reading of the request as it must show once a step is right."""
    reading = intake.readings[expected.reading]
    shape = reading.shape()
    kind, axle = str(shape[0]), shape[2 if shape[0] == "axle_span" else 1]
    return Expectation(
        pointer=_pointer(intake.places[expected.reading]),
        kind=KINDS[kind],
        axle=int(axle),
        marks=[_mark(mark, reading, scale) for mark in expected.marks],
    )


@lru_cache(maxsize=256)
def _pointer(place: int) -> str:
    return pointer_to("readings", place)


def _mark(mark: planning.Mark, reading: Reading, scale: Scale) -> ExpectedMark:
    name = reading.angle if isinstance(reading, WheelAngle) else mark.name
    unit = mark_unit(reading, scale)
    value = shown(mark.value, reading, scale)
    lower = None if mark.lower is None else shown(mark.lower, reading, scale)
    upper = None if mark.upper is None else shown(mark.upper, reading, scale)
    return ExpectedMark(
        name=name,
        value=clean(value),
        lower=None if lower is None else clean(lower),
        upper=None if upper is None else clean(upper),
        unit=unit,
        text=_mark_text(value, lower, upper, reading, scale) if scale.text else "",
    )


def mark_unit(reading: Reading, scale: Scale) -> EstimateUnit:
    """The unit that a reading is read in."""
    angle = isinstance(reading, ANGLED)
    angle = angle or (isinstance(reading, ToeScale) and reading.baseline is None)
    return EstimateUnit.DEGREE if angle else scale.length


def shown(mark: float, reading: Reading, scale: Scale) -> float:
    """A mark in the unit that the reading is read in."""
    if isinstance(reading, ToeScale):
        if reading.baseline is None:
            return math.degrees(math.atan(mark))
        return mark * reading.baseline * scale.per_metre
    if isinstance(reading, ANGLED):
        return mark * RADIAN
    return mark * scale.per_metre


def taper_words(radians: float) -> str:
    """A wedge as it is read: its size, and which way its thick end points."""
    return estimate_words("wedge_left", radians, "in", 1)


def signed(size: str, value: float) -> str:
    """The words of a size with the minus of a value below nothing that they show as more."""
    return "-" + size if value < 0 and any(digit in "123456789" for digit in size) else size


def _mark_text(
    value: float, lower: float | None, upper: float | None, reading: Reading, scale: Scale
) -> str:
    """The step of the scale nearest to a mark with which its plan step is right."""
    low = -math.inf if lower is None else lower
    high = math.inf if upper is None else upper
    if mark_unit(reading, scale) is EstimateUnit.DEGREE:
        at = fitting(value, low, high, HUNDREDTH * RADIAN) / RADIAN
        return taper_words(at) if isinstance(reading, Wedge) else signed(angle_words(at), at)
    at = fitting(value, low, high, step_of(scale.unit, scale.denominator) * scale.per_metre)
    at /= scale.per_metre
    return signed(length_words(at, scale.unit, scale.denominator), at)
