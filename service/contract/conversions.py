"""What the conversions answer: one quantity in every way of stating it."""

from enum import StrEnum

from service.contract.base import OpenStruct


class ToeShare(StrEnum):
    """Whether a toe is that of both wheels together or of one of two that share it alike."""

    TOTAL = "total"
    ONE_WHEEL = "one_wheel"


class ThrustReading(StrEnum):
    """Whether a thrust is given itself or as the right less the left reading of a scale."""

    THRUST = "thrust"
    DIFFERENCE = "difference"


class CentringReading(StrEnum):
    """Whether the offset of an axle is given or the right less the left gap of a tape."""

    OFFSET = "offset"
    DIFFERENCE = "difference"


class LengthFigures(OpenStruct):
    """One length in every unit."""

    inch: float
    foot: float
    mm: float
    cm: float
    m: float


class AngleFigures(OpenStruct):
    """One aim in every way of stating it."""

    deg: float
    mm_per_m: float
    """Slope: the tangent of the angle, in millimetres per metre."""
    inch: float | None
    """Length over the length named beside it; null where none was named."""
    mm: float | None
    """The same in millimetres."""


class LengthConversion(OpenStruct):
    """A length in every unit, exactly: 1 in is 25.4 mm."""

    length: LengthFigures


class ToeConversion(OpenStruct):
    """A toe, toe-in positive, over the baseline that makes a length of it an angle."""

    total: AngleFigures
    """Toe of both wheels together."""
    each_wheel: AngleFigures
    """Share of each of two wheels that share the total alike: half its angle."""
    baseline: LengthFigures | None
    """The baseline that was given; null where an angle or a slope came without one."""


class ThrustConversion(OpenStruct):
    """The aim of an axle, right positive, and what it reads as at a distance ahead."""

    thrust: AngleFigures
    difference: LengthFigures | None
    """Right less left reading of a centred axle on a scale `length` ahead: 2 times length times
    the tangent of the thrust."""
    length: LengthFigures | None
    """The length that was given; null where an angle or a slope came without one."""


class OffsetConversion(OpenStruct):
    """An axle off centre, right positive, and the side-to-side difference: twice as large."""

    offset: LengthFigures
    """Axle centre from the frame centreline."""
    difference: LengthFigures
    """Right gap less left gap of a tape."""


class SetbackConversion(OpenStruct):
    """A setback, right end further back positive, and its angle over a spread."""

    setback: LengthFigures
    skew_deg: float
    """Angle whose sine is the setback over the spread."""
    spread: LengthFigures
