"""`/v1/conversions`: one quantity between the ways the trade states it, exactly both ways."""

from collections.abc import Callable
from typing import Annotated, Literal, TypeVar

from litestar import get
from litestar.openapi.spec import Example
from litestar.params import QueryParameter

from service.contract import conversions as wire
from service.contract.problem_catalogue import (
    BASELINE_MISSING,
    NEGATIVE_TAPE_READING,
    READING_IMPOSSIBLE,
    UNREADABLE_TEXT,
    ProblemKind,
)
from service.contract.problems import FieldError, ProblemError, field_error
from service.contract.vehicle import LengthUnit
from service.geometry import conversion
from service.geometry.length_text import LENGTH_PATTERN, TAPE_PATTERN, parse_length, parse_tape
from service.geometry.quantity import QuantityError
from service.geometry.toe_text import TOE_PATTERN, ToeKind, parse_toe

T = TypeVar("T")

_REFUSALS = {"problems": (UNREADABLE_TEXT,)}

Unit = Annotated[
    LengthUnit, QueryParameter(description="Unit of every text that carries none of its own.")
]


def _text(description: str, pattern: str, *examples: str) -> QueryParameter:
    """A parameter in text; the pattern is published, and the parser says more than it could."""
    return QueryParameter(
        description=description,
        min_length=1,
        max_length=40,
        schema_extra={"pattern": pattern},
        examples=[Example(value=example) for example in examples],
    )


_LENGTH = _text("A length as it was read.", LENGTH_PATTERN, "31 3/4", "806.5 mm")
_TOE = _text(
    "A toe as it was read, toe-in positive: a length over the baseline, or with its mark an angle "
    "or a slope.",
    TOE_PATTERN,
    "1/16",
    "0.09°",
    "1.5 mm/m",
)
_BASELINE = _text("Length that a toe in length is stated over.", TAPE_PATTERN, "40.2")
_THRUST = _text(
    "A thrust, right positive: a length over `length`, or with its mark an angle or a slope.",
    TOE_PATTERN,
    "2",
    "0.63°",
    "11 mm/m",
)
_OVER = _text("Length that a thrust in length is stated over.", TAPE_PATTERN, "181")
_SETBACK = _text(
    "A setback, right end further back positive, as a length, or with its mark as an angle.",
    TOE_PATTERN,
    "1/16",
    "0.1°",
)
_SPREAD = _text("Distance between the left and the right measuring point.", TAPE_PATTERN, "33 1/2")


@get("/v1/conversions/length", summary="Convert a length", sync_to_thread=False, opt=_REFUSALS)
def convert_length(
    value: Annotated[str, _LENGTH], unit: Unit = LengthUnit.INCH
) -> wire.LengthConversion:
    """A length as it was read, in inches, feet, millimetres, centimetres and metres."""
    texts = _Texts(unit)
    metres = texts.length("value", value)
    texts.refuse()
    return wire.LengthConversion(length=_lengths(conversion.convert_length(metres)))


@get("/v1/conversions/toe", summary="Convert a toe", sync_to_thread=False, opt=_REFUSALS)
def convert_toe(
    value: Annotated[str, _TOE],
    unit: Unit = LengthUnit.INCH,
    baseline: Annotated[str | None, _BASELINE] = None,
    share: Annotated[
        wire.ToeShare, QueryParameter(description="Whose toe `value` is.")
    ] = wire.ToeShare.TOTAL,
) -> wire.ToeConversion:
    """A toe between inches, millimetres, degrees and mm/m, in total and for each wheel.

    A toe in length is no angle before its baseline is named: 1/16 in is 0.08, 0.09 or 0.125
    degrees in print, by baseline. Without a baseline an angle or a slope is converted to the
    other of the two.
    """
    texts = _Texts(unit)
    kind, stated = texts.toe("value", value)
    over = texts.tape("baseline", baseline)
    if kind == "length" and baseline is None:
        texts.missing("baseline", "A toe in length")
    texts.refuse()
    one_wheel = share is wire.ToeShare.ONE_WHEEL
    toe = _converted(lambda: conversion.convert_toe(kind, stated, over, one_wheel))
    return wire.ToeConversion(
        total=_angle(toe.total),
        each_wheel=_angle(toe.each_wheel),
        baseline=_lengths_or_none(toe.baseline),
    )


@get("/v1/conversions/thrust", summary="Convert a thrust", sync_to_thread=False, opt=_REFUSALS)
def convert_thrust(
    value: Annotated[str, _THRUST],
    unit: Unit = LengthUnit.INCH,
    length: Annotated[str | None, _OVER] = None,
    reading: Annotated[
        wire.ThrustReading, QueryParameter(description="What `value` is.")
    ] = wire.ThrustReading.THRUST,
) -> wire.ThrustConversion:
    """A thrust between inches over a named length, degrees, mm/m and a side difference.

    With `reading=difference` the value is the right less the left reading of a scale `length`
    ahead of a centred axle: 2 times length times the tangent of its thrust.
    """
    texts = _Texts(unit)
    kind: conversion.AngleKind | Literal["difference"]
    if reading is wire.ThrustReading.DIFFERENCE:
        kind, stated = "difference", texts.length("value", value)
    else:
        kind, stated = texts.toe("value", value)
    over = texts.tape("length", length)
    if kind in ("length", "difference") and length is None:
        texts.missing("length", "A thrust in length")
    texts.refuse()
    thrust = _converted(lambda: conversion.convert_thrust(kind, stated, over))
    return wire.ThrustConversion(
        thrust=_angle(thrust.thrust),
        difference=_lengths_or_none(thrust.difference),
        length=_lengths_or_none(thrust.over),
    )


@get("/v1/conversions/offset", summary="Convert an offset", sync_to_thread=False, opt=_REFUSALS)
def convert_offset(
    value: Annotated[str, _LENGTH],
    unit: Unit = LengthUnit.INCH,
    reading: Annotated[
        wire.CentringReading, QueryParameter(description="What `value` is.")
    ] = wire.CentringReading.OFFSET,
) -> wire.OffsetConversion:
    """An axle's offset and the side-to-side difference of a tape, which is twice the offset."""
    texts = _Texts(unit)
    metres = texts.length("value", value)
    texts.refuse()
    given = _converted(lambda: conversion.convert_centring(reading.value, metres))
    return wire.OffsetConversion(
        offset=_lengths(given.offset), difference=_lengths(given.difference)
    )


@get("/v1/conversions/setback", summary="Convert a setback", sync_to_thread=False, opt=_REFUSALS)
def convert_setback(
    value: Annotated[str, _SETBACK],
    spread: Annotated[str, _SPREAD],
    unit: Unit = LengthUnit.INCH,
) -> wire.SetbackConversion:
    """A setback and its angle, the skew, over the distance between the two measuring points."""
    texts = _Texts(unit)
    kind, stated = texts.toe("value", value)
    over = texts.tape("spread", spread)
    if kind == "slope":
        texts.refuse_with(UNREADABLE_TEXT, "value", "A setback is no slope.", "Write 1/16 or 0.1°.")
    texts.refuse()
    asked: Literal["setback", "skew"] = "setback" if kind == "length" else "skew"
    setback = _converted(lambda: conversion.convert_setback(asked, stated, over or 0.0))
    return wire.SetbackConversion(
        setback=_lengths(setback.setback),
        skew_deg=setback.skew_deg,
        spread=_lengths(setback.spread),
    )


class _Texts:
    """The texts of one query; what cannot be read is gathered, so that all faults are told."""

    def __init__(self, unit: LengthUnit) -> None:
        self._unit = unit.value
        self._faults: list[FieldError] = []

    def length(self, name: str, text: str) -> float:
        """Metres."""
        return self._read(name, lambda: parse_length(text, self._unit), 0.0)

    def tape(self, name: str, text: str | None) -> float | None:
        """Metres, never negative; None for a parameter that was not given."""
        if text is None:
            return None
        if text.strip()[:1] in ("-", "−"):
            detail, hint = f"{text} is negative.", "Write it without a sign."
            self.refuse_with(NEGATIVE_TAPE_READING, name, detail, hint)
            return 0.0
        return self._read(name, lambda: parse_tape(text, self._unit), 0.0)

    def toe(self, name: str, text: str) -> tuple[ToeKind, float]:
        """What kind of toe, thrust or setback the text states, and its value in SI."""
        return self._read(name, lambda: parse_toe(text, self._unit), ("angle", 0.0))

    def missing(self, name: str, what: str) -> None:
        """A length was given where only a named length makes an angle of it."""
        detail = f"{what} is an angle only over a named length."
        hint = f"Add {name}= to the query, or give the value in ° or mm/m."
        self.refuse_with(BASELINE_MISSING, name, detail, hint)

    def refuse_with(self, kind: ProblemKind, name: str, detail: str, hint: str) -> None:
        """Gather a fault of a parameter."""
        self._faults.append(field_error(kind, f"?{name}", detail, hint))

    def refuse(self) -> None:
        """Raise the problem of all faults gathered, if there are any."""
        if self._faults:
            raise ProblemError.of_broken_rules(self._faults)

    def _read(self, name: str, parse: Callable[[], T], instead: T) -> T:
        try:
            return parse()
        except QuantityError as error:
            hint = error.hint[:1].upper() + error.hint[1:]
            self.refuse_with(UNREADABLE_TEXT, name, f"{error.reason}.", f"{hint}.")
            return instead


_PARAMETERS = {"over": "length"}


def _converted(convert: Callable[[], T]) -> T:
    """The conversion, with what lies outside its domain told as the query's parameter."""
    try:
        return convert()
    except conversion.ConversionError as error:
        name = _PARAMETERS.get(error.field, error.field)
        detail, hint = f"{name} {error.reason}.", f"{error.hint[:1].upper()}{error.hint[1:]}."
        fault = field_error(READING_IMPOSSIBLE, f"?{name}", detail, hint)
        raise ProblemError.of_broken_rules([fault]) from None


def _lengths(lengths: conversion.Lengths) -> wire.LengthFigures:
    return wire.LengthFigures(
        inch=lengths.inch, foot=lengths.foot, mm=lengths.mm, cm=lengths.cm, m=lengths.m
    )


def _lengths_or_none(lengths: conversion.Lengths | None) -> wire.LengthFigures | None:
    return None if lengths is None else _lengths(lengths)


def _angle(angle: conversion.Angle) -> wire.AngleFigures:
    return wire.AngleFigures(deg=angle.deg, mm_per_m=angle.mm_per_m, inch=angle.inch, mm=angle.mm)
