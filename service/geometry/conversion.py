"""Exact conversions between the ways the trade states toe, thrust, centring, setback and length.

Every function takes and gives SI (metres, radians, metre per metre), and the way back is the
inverse function. A length stands for an angle only over a named length: the tangent of a toe or a
thrust is the length over its baseline, the sine of a skew is the setback over its spread.
"""

from math import asin, atan, cos, degrees, inf, isfinite, pi, sin, tan
from typing import Literal, NamedTuple

INCH = 0.0254
FOOT = 0.3048
MILE = 1609.344
"""Metres, by definition."""

METRES = {"in": INCH, "ft": FOOT, "mm": 0.001, "cm": 0.01, "m": 1.0}

AngleKind = Literal["length", "angle", "slope"]
"""What a toe or a thrust is stated as; the kinds that `parse_toe` tells apart."""


class ConversionError(ValueError):
    """A value outside the domain of a conversion; `field` names it, `hint` says what may stand."""

    def __init__(self, field: str, reason: str, hint: str) -> None:
        super().__init__(f"{field} {reason}: {hint}")
        self.field = field
        self.reason = reason
        self.hint = hint


def _finite(field: str, value: float) -> float:
    if not isfinite(value):
        raise ConversionError(field, f"is {value}", "give a finite number")
    return value


def _positive(field: str, value: float) -> float:
    if not 0 < value < inf:
        reason = "has to be more than nothing"
        raise ConversionError(field, reason, "give a length greater than 0")
    return value


def _acute(field: str, angle: float) -> float:
    if not abs(angle) < pi / 2:
        reason = f"is {degrees(angle):g} degrees"
        raise ConversionError(field, reason, "give an angle between -90 and 90 degrees")
    return angle


def _arctangent(length: float, over: float, field: str) -> float:
    ratio = _finite("value", length) / _positive(field, over)
    if cos(angle := atan(ratio)) < 1e-12:
        reason = "is nothing beside the length that is stated over it"
        raise ConversionError(field, reason, "give the length that the value is stated over")
    return angle


def toe_from_length(length: float, baseline: float) -> float:
    """Angle of a toe, total or of one wheel, whose length over `baseline` is given."""
    return _arctangent(length, baseline, "baseline")


def length_from_toe(toe: float, baseline: float) -> float:
    """Length over `baseline` of a toe, total or of one wheel."""
    return _positive("baseline", baseline) * tan(_acute("value", toe))


def slope_from_angle(angle: float) -> float:
    """Metre per metre."""
    return tan(_acute("value", angle))


def angle_from_slope(slope: float) -> float:
    """Inverse of `slope_from_angle`."""
    return _arctangent(slope, 1.0, "value")


def wheel_toe_from_total(total: float) -> float:
    """Toe of each wheel when both share the total alike: half its angle, not half its length."""
    return _finite("value", total) / 2


def total_toe_from_wheel(wheel: float) -> float:
    """Inverse of `wheel_toe_from_total`."""
    return _finite("value", wheel) * 2


def thrust_from_length(length: float, over: float) -> float:
    """Aim of an axle that is `length` to the right after going `over` ahead."""
    return _arctangent(length, over, "over")


def length_from_thrust(thrust: float, over: float) -> float:
    """Inverse of `thrust_from_length`."""
    return _positive("over", over) * tan(_acute("value", thrust))


def thrust_from_difference(difference: float, over: float) -> float:
    """Aim of a centred axle from the right less the left reading of a scale `over` ahead of it."""
    return thrust_from_length(offset_from_difference(difference), over)


def difference_from_thrust(thrust: float, over: float) -> float:
    """Inverse of `thrust_from_difference`: 2 D tan t."""
    return difference_from_offset(length_from_thrust(thrust, over))


def offset_from_difference(difference: float) -> float:
    """Axle centre from the centreline, right positive, from the right gap less the left gap."""
    return _finite("value", difference) / 2


def difference_from_offset(offset: float) -> float:
    """Inverse of `offset_from_difference`."""
    return _finite("value", offset) * 2


def skew_from_setback(setback: float, spread: float) -> float:
    """Angle of an axle whose right end is `setback` further back than its left, `spread` away."""
    if abs(_finite("value", setback)) >= _positive("spread", spread):
        reason = "is not smaller than the spread it is taken over"
        raise ConversionError("value", reason, "give a setback smaller than its spread")
    return asin(setback / spread)


def setback_from_skew(skew: float, spread: float) -> float:
    """Inverse of `skew_from_setback`."""
    return _positive("spread", spread) * sin(_acute("value", skew))


class Lengths(NamedTuple):
    """One length in every unit."""

    inch: float
    foot: float
    mm: float
    cm: float
    m: float


class Angle(NamedTuple):
    """One angle in every way of stating it; the lengths are None without a baseline."""

    deg: float
    mm_per_m: float
    inch: float | None
    mm: float | None


class Toe(NamedTuple):
    """A toe as both wheels make it, and as each wheel's share when they share it alike."""

    total: Angle
    each_wheel: Angle
    baseline: Lengths | None


class Thrust(NamedTuple):
    """An aim, its length over the named length, and the side-to-side difference it reads as."""

    thrust: Angle
    difference: Lengths | None
    over: Lengths | None


class Centring(NamedTuple):
    """An offset and the side-to-side difference of a tape, which is twice as large."""

    offset: Lengths
    difference: Lengths


class Setback(NamedTuple):
    """A setback, its angle, and the spread it is taken over."""

    setback: Lengths
    skew_deg: float
    spread: Lengths


def _tidy(value: float) -> float:
    """To 15 digits, which drops the last bit's noise of the arithmetic: 31.75, not 31.749999…96."""
    if not isfinite(value):
        raise ConversionError("value", "is too large to convert", "give a smaller value or length")
    return float(f"{value:.15g}")


def _lengths(metres: float) -> Lengths:
    return Lengths(*(_tidy(metres / METRES[unit]) for unit in ("in", "ft", "mm", "cm", "m")))


def _angle(angle: float, over: float | None) -> Angle:
    slope = slope_from_angle(angle)
    length = None if over is None else slope * over
    return Angle(
        deg=_tidy(degrees(angle)),
        mm_per_m=_tidy(slope * 1000),
        inch=None if length is None else _tidy(length / INCH),
        mm=None if length is None else _tidy(length * 1000),
    )


def _stated(kind: AngleKind, value: float, over: float | None, field: str) -> float:
    """The angle that a value of that kind states."""
    if over is not None:
        _positive(field, over)
    if kind == "angle":
        return _acute("value", value)
    if kind == "slope":
        return angle_from_slope(value)
    if over is None:
        hint = f"give `{field}`, the length that the value is stated over"
        raise ConversionError(field, "is missing for a value in length", hint)
    return _arctangent(value, over, field)


def convert_length(metres: float) -> Lengths:
    """A length in every unit. Raises ConversionError unless it is finite."""
    return _lengths(_finite("value", metres))


def convert_toe(
    kind: AngleKind, value: float, baseline: float | None = None, one_wheel: bool = False
) -> Toe:
    """A toe in every way of stating it; `kind` and `value` as `parse_toe` gives them.

    With `one_wheel` the value is the share of one of two wheels that share the total alike.
    The baseline in metres may be left out of an angle or a slope, and then no length is given.
    Raises ConversionError.
    """
    stated = _stated(kind, value, baseline, "baseline")
    total = _acute("value", total_toe_from_wheel(stated) if one_wheel else stated)
    return Toe(
        total=_angle(total, baseline),
        each_wheel=_angle(wheel_toe_from_total(total), baseline),
        baseline=None if baseline is None else _lengths(baseline),
    )


def convert_thrust(
    kind: AngleKind | Literal["difference"], value: float, over: float | None = None
) -> Thrust:
    """A thrust in every way of stating it.

    `over` in metres is the length that the value is stated over; the kind `difference` is the
    right less the left reading at that distance ahead. Raises ConversionError.
    """
    if kind == "difference":
        thrust = _stated("length", offset_from_difference(value), over, "over")
    else:
        thrust = _stated(kind, value, over, "over")
    return Thrust(
        thrust=_angle(thrust, over),
        difference=None if over is None else _lengths(difference_from_thrust(thrust, over)),
        over=None if over is None else _lengths(over),
    )


def convert_centring(kind: Literal["offset", "difference"], metres: float) -> Centring:
    """An offset and its side-to-side difference, from either. Raises ConversionError."""
    offset = offset_from_difference(metres) if kind == "difference" else _finite("value", metres)
    return Centring(_lengths(offset), _lengths(difference_from_offset(offset)))


def convert_setback(kind: Literal["setback", "skew"], value: float, spread: float) -> Setback:
    """A setback and its angle, from either, over a spread in metres. Raises ConversionError."""
    skew = skew_from_setback(value, spread) if kind == "setback" else value
    setback = setback_from_skew(skew, spread)
    return Setback(_lengths(setback), _tidy(degrees(skew)), _lengths(spread))
