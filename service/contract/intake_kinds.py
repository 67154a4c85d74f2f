"""Reads one reading of each kind: texts to SI numbers, and whether it can be true at all."""

import math
from collections.abc import Callable
from typing import Any

from service.contract import readings as wire
from service.contract.intake_bench import STEEPEST, Bench
from service.contract.intake_errors import FaultError
from service.contract.problem_catalogue import (
    BASELINE_MISSING,
    CONTRACT_BROKEN,
    NEGATIVE_TAPE_READING,
    READING_IMPOSSIBLE,
)
from service.geometry import readings as si
from service.geometry.angle_text import parse_angle
from service.geometry.toe_text import parse_toe
from service.geometry.vehicle import Axle

_new = tuple.__new__
"""Makes a named tuple in half the time of its class, which runs Python code to call this."""

REAR = wire.ThickEnd.REAR
LEAST_TURN, MOST_TURN = 0.017453292519943295, 1.0471975511965976
"""1 and 60 degrees, the turns between which a caster sweep means something."""


def _sightline(reading: wire.SightlineReading, bench: Bench) -> si.Reading:
    axle = bench.axles[reading.axle][0]
    reference = bench.reference
    if reading.reference is not None:
        reference = bench.axles.named(reading.reference, "reference")[0]
    if reference == axle:
        raise FaultError(
            CONTRACT_BROKEN,
            "reference" if reading.reference is not None else "axle",
            f"the scale of axle {reference}'s sightline stands at that axle itself",
            "Name in `reference` the other axle that carries the scale.",
        )
    u, rehang = bench.sure("sightline", reading.uncertainty, reading.instrument)
    left, right = bench.lengths[reading.left], bench.lengths[reading.right]
    return _new(si.Sightline, (axle, left, right, u, rehang, reference))


def _frame_gap(reading: wire.FrameGapReading, bench: Bench) -> si.Reading:
    axle = bench.axles[reading.axle][0]
    u, _ = bench.sure("frame_gap", reading.uncertainty, reading.instrument)
    left, right = bench.tapes(reading.left, reading.right)
    return _new(si.FrameGap, (axle, left, right, u))


def _sides(
    reading: wire.SetbackSpanReading | wire.AxleSpanReading | wire.KingpinSpanReading, bench: Bench
) -> tuple[float, float, float]:
    """Left, right and spread of a pair of spans that one axle can give."""
    left, right = bench.tapes(reading.left, reading.right)
    spread = bench.span(reading.spread, "spread")
    if abs(right - left) > spread * STEEPEST:
        raise FaultError(
            READING_IMPOSSIBLE,
            "right",
            f"the sides differ by more than an axle can turn over a spread of {reading.spread!r}",
            "Read both sides again, and the distance between the points they end at.",
        )
    return left, right, spread


def _setback_span(reading: wire.SetbackSpanReading, bench: Bench) -> si.Reading:
    axle = bench.axles[reading.axle][0]
    u, _ = bench.sure("setback_span", reading.uncertainty, reading.instrument)
    return _new(si.SetbackSpan, (axle, *_sides(reading, bench), u))


def _axle_span(reading: wire.AxleSpanReading, bench: Bench) -> si.Reading:
    front = bench.axles.named(reading.front_axle, "front_axle")
    rear = bench.axles.named(reading.rear_axle, "rear_axle")
    if front.distance >= rear.distance:
        raise FaultError(
            CONTRACT_BROKEN,
            "rear_axle",
            f"axle {rear.number} does not stand behind axle {front.number}",
            "Name the axle nearer the front in `front_axle` and the other in `rear_axle`.",
        )
    u, _ = bench.sure("axle_span", reading.uncertainty, reading.instrument)
    return _new(si.AxleSpan, (front.number, rear.number, *_sides(reading, bench), u))


def _kingpin_span(reading: wire.KingpinSpanReading, bench: Bench) -> si.Reading:
    axle = bench.axles[reading.axle][0]
    if not bench.vehicle.towed:
        raise FaultError(
            READING_IMPOSSIBLE,
            "kind",
            f"a {bench.vehicle.kind} is not measured from a kingpin",
            "Send it as a trailer or a dolly, or use axle_span or setback_span readings.",
        )
    u, _ = bench.sure("kingpin_span", reading.uncertainty, reading.instrument)
    return _new(si.KingpinSpan, (axle, *_sides(reading, bench), u))


def _baseline(text: str | None, axle: Axle, bench: Bench) -> float:
    if text is not None:
        return bench.span(text, "baseline")
    if axle.tyre_diameter is None:
        raise FaultError(
            BASELINE_MISSING,
            "baseline",
            f"toe of axle {axle.number} is a length and no baseline says over what",
            "Give `baseline`, or `tyre_diameter` on the axle, or give the toe as 0.09°.",
        )
    return axle.tyre_diameter


def _toe_width(reading: wire.ToeWidthReading, bench: Bench) -> si.Reading:
    axle = bench.axles[reading.axle]
    front, rear = bench.tape(reading.front, "front"), bench.tape(reading.rear, "rear")
    baseline = _baseline(reading.baseline, axle, bench)
    if abs(rear - front) > baseline:
        raise FaultError(
            READING_IMPOSSIBLE,
            "rear",
            "front and rear differ by more than the baseline they are read over",
            "Read both widths between the same two scribe lines.",
        )
    u, _ = bench.sure("toe_width", reading.uncertainty, reading.instrument)
    return _new(si.ToeWidth, (axle.number, front, rear, baseline, u))


def _toe_scale(reading: wire.ToeScaleReading, bench: Bench) -> si.Reading:
    axle = bench.axles[reading.axle]
    form, value = parse_toe(reading.toe, bench.unit)
    baseline = None
    if form == "length" or reading.baseline is not None:
        baseline = _baseline(reading.baseline, axle, bench)
    slope = _slope(form, value, baseline)
    if abs(slope) > STEEPEST:
        raise FaultError(
            READING_IMPOSSIBLE,
            "toe",
            f"a toe of {reading.toe!r} is beyond 45 degrees",
            "Write the total toe, such as 1/16 over its baseline, 0.09° or 1.5 mm/m.",
        )
    u, _ = bench.sure("toe_scale", reading.uncertainty, reading.instrument)
    # Where the scale is not marked in length, its error is taken over the tyre's size or 1 m.
    over = baseline or axle.tyre_diameter or 1.0
    return _new(si.ToeScale, (axle.number, slope, u / over, baseline))


def _slope(form: str, value: float, baseline: float | None) -> float:
    if form == "length":
        return value / (baseline or 1.0)
    # The tangent is taken where the toe is bounded: beyond 45 degrees it is refused as it is.
    return value if form == "slope" or abs(value) > STEEPEST else math.tan(value)


def wheel_angles(reading: wire.WheelAngleReading, bench: Bench) -> list[si.Reading]:
    """The angles of one wheel, each a reading of its own."""
    axle, side = bench.axles[reading.axle][0], reading.side.value
    u, _ = bench.sure("wheel_angle", reading.uncertainty, reading.instrument)
    read: list[si.Reading] = []
    for angle, text in (
        ("toe", reading.toe),
        ("camber", reading.camber),
        ("caster", reading.caster),
    ):
        if text is not None:
            read.append(si.WheelAngle(axle, side, angle, bench.angle(text, angle), u))
    if not read:
        raise FaultError(
            CONTRACT_BROKEN,
            "",
            "a wheel_angle reading gives no angle",
            "Give at least one of `toe`, `camber` and `caster`.",
        )
    return read


def _caster_sweep(reading: wire.CasterSweepReading, bench: Bench) -> si.Reading:
    axle = bench.axles[reading.axle][0]
    turn = parse_angle(reading.turn)
    if not LEAST_TURN <= turn <= MOST_TURN:
        raise FaultError(
            READING_IMPOSSIBLE,
            "turn",
            f"a turn of {reading.turn!r} is not between 1 and 60 degrees",
            "Write the angle that the wheel was turned to each side, such as 20.",
        )
    left = bench.angle(reading.camber_left_turn, "camber_left_turn")
    right = bench.angle(reading.camber_right_turn, "camber_right_turn")
    u, _ = bench.sure("caster_sweep", reading.uncertainty, reading.instrument)
    return _new(si.CasterSweep, (axle, reading.side.value, turn, left, right, u))


def _wedge(reading: wire.WedgeReading, bench: Bench) -> si.Reading:
    axle = bench.axles[reading.axle][0]
    left = _taper(reading.left, reading.left_thick_end, "left", bench)
    right = _taper(reading.right, reading.right_thick_end, "right", bench)
    u, _ = bench.sure("wedge", reading.uncertainty, reading.instrument)
    return _new(si.Wedge, (axle, left, right, u))


def _taper(text: str, thick: wire.ThickEnd, side: str, bench: Bench) -> float:
    """Taper of the wedge of one side, thick end to the rear positive."""
    taper = bench.angle(text, side)
    if taper < 0:
        raise FaultError(
            NEGATIVE_TAPE_READING,
            side,
            f"the taper of the {side} wedge is negative",
            f"Write the taper without a sign and say in `{side}_thick_end` where it is thick.",
        )
    return taper if thick is REAR else -taper


READ: dict[type, Callable[[Any, Bench], si.Reading]] = {
    wire.SightlineReading: _sightline,
    wire.FrameGapReading: _frame_gap,
    wire.SetbackSpanReading: _setback_span,
    wire.AxleSpanReading: _axle_span,
    wire.KingpinSpanReading: _kingpin_span,
    wire.ToeWidthReading: _toe_width,
    wire.ToeScaleReading: _toe_scale,
    wire.CasterSweepReading: _caster_sweep,
    wire.WedgeReading: _wedge,
}
