"""The vehicle in plan: frame, reference line, axles, wheels and dimensions."""

import math
from collections.abc import Sequence
from typing import NamedTuple

from service.drawing.canvas import ACCENT, INK, PAPER, Box, Canvas
from service.drawing.stance import (
    DUAL_GAP,
    TYRE,
    USUAL_DIAMETER,
    Drawn,
    Stance,
    span_of,
    stance_of,
    width_of_axle,
)
from service.drawing.subject import Round
from service.drawing.words import Words
from service.geometry.vehicle import Axle, Vehicle

SINGLE_TYRES = frozenset({"steer", "pusher", "tag"})
SMALL = 10.0
CHAIN, BROKEN = "14 3 3 3", "4 3"


class Place(NamedTuple):
    """Where a vehicle is drawn: its centreline and its reference point, in sheet units."""

    centre: float
    reference: float
    drawn: Drawn

    def y(self, distance: float) -> float:
        """Down the sheet is rearward."""
        return self.reference + distance * self.drawn.per_metre


def draw_vehicle(canvas: Canvas, one: Round, place: Place) -> list[Stance]:
    """Draw one round's vehicle with the numbers of its axles; how each axle stands."""
    _frame(canvas, one.vehicle, place)
    stances = [stance_of(one, axle, place.drawn) for axle in one.vehicle.axles]
    for axle, stance in zip(one.vehicle.axles, stances, strict=True):
        _axle(canvas, axle, stance, place)
    for axle, stance in zip(one.vehicle.axles, stances, strict=True):
        _number(canvas, axle, stance, place)
    return stances


def write_inside(
    canvas: Canvas, one: Round, place: Place, words: Words, stances: Sequence[Stance]
) -> None:
    """Write the offset dimensions and the pin's name, each only where nothing is in its way."""
    if one.vehicle.towed:
        pin = words.say("plan.eye" if one.vehicle.kind == "dolly" else "plan.kingpin")
        canvas.text_if_free(place.centre + 9, place.y(0.0) + 4, pin, SMALL, "start")
    for axle, stance in zip(one.vehicle.axles, stances, strict=True):
        told = one.axles.get(axle.number, {}).get("offset")
        if told is not None:
            _offset(canvas, axle, stance, place, words.length(told.value))


def _frame(canvas: Canvas, vehicle: Vehicle, place: Place) -> None:
    front, rear = (place.y(distance) for distance in span_of(vehicle))
    scale = place.drawn.per_metre
    half = min(0.43 if not vehicle.towed else 0.5, 0.22 * _narrowest(vehicle)) * scale
    x = place.centre
    start = front
    if vehicle.kind == "dolly":
        start = place.y(0.55 * vehicle.axles[0].distance)
        canvas.path(f"M{x:.1f} {front:.1f}L{x - half:.1f} {start:.1f}M{x:.1f} {front:.1f}"
                    f"L{x + half:.1f} {start:.1f}")  # fmt: skip
    canvas.path(f"M{x - half:.1f} {start:.1f}H{x + half:.1f}V{rear:.1f}H{x - half:.1f}Z", 1.0)
    if vehicle.towed:
        pin = place.y(0.0)
        canvas.raw(
            f'<circle cx="{x:.1f}" cy="{pin:.1f}" r="4" fill="{PAPER}" stroke="{INK}" '
            f'stroke-width="1.2"/>'
        )
    canvas.line(x, front - 14, x, rear + 12, 0.7, CHAIN)


def _narrowest(vehicle: Vehicle) -> float:
    return min(width_of_axle(axle) for axle in vehicle.axles)


def _axle(canvas: Canvas, axle: Axle, stance: Stance, place: Place) -> None:
    x, y = place.centre + stance.offset, place.y(axle.distance)
    scale = place.drawn.per_metre
    half = width_of_axle(axle) * scale / 2
    tyre = min(TYRE * scale, half * 0.25)
    wide = tyre if axle.role in SINGLE_TYRES else 2 * tyre + min(DUAL_GAP * scale, half * 0.05)
    arm = half - wide / 2
    across, down = arm * math.cos(stance.beam), arm * math.sin(stance.beam)
    canvas.line(
        x - across, y - down, x + across, y + down, 2.2, "" if stance.beam_known else BROKEN, ACCENT
    )
    long = (axle.tyre_diameter or USUAL_DIAMETER) * scale
    _wheel(canvas, x - across, y - down, stance.left, wide, tyre, long, stance.wheels_known)
    _wheel(canvas, x + across, y + down, stance.right, wide, tyre, long, stance.wheels_known)
    if stance.aim is not None:
        _aim(canvas, x, y, stance.aim, max(long / 2 + 6.0, 24.0))
    for left in (x - half - 3, x + half - wide - 3):
        canvas.take(Box(left, y - long / 2, left + wide + 6, y + long / 2))


def _wheel(
    canvas: Canvas,
    x: float,
    y: float,
    turn: float,
    wide: float,
    tyre: float,
    long: float,
    known: bool,
) -> None:
    dash = "" if known else f' stroke-dasharray="{BROKEN}"'
    lefts = (-wide / 2,) if wide < 1.5 * tyre else (-wide / 2, wide / 2 - tyre)
    rects = "".join(
        f'<rect x="{left:.1f}" y="{-long / 2:.1f}" width="{tyre:.1f}" height="{long:.1f}" rx="2"/>'
        for left in lefts
    )
    canvas.raw(
        f'<g transform="translate({x:.1f} {y:.1f}) rotate({math.degrees(turn):.2f})" '
        f'fill="{PAPER}" stroke="{INK}" stroke-width="1"{dash}>{rects}</g>'
    )


def _aim(canvas: Canvas, x: float, y: float, aim: float, long: float) -> None:
    """An arrow the way the axle points."""
    canvas.raw(
        f'<g transform="translate({x:.1f} {y:.1f}) rotate({math.degrees(aim):.2f})">'
        f'<path d="M0 0V{-long:.1f}" stroke="{ACCENT}" stroke-width="1.2"/>'
        f'<path d="M-3 {7 - long:.1f}L0 {-long:.1f}L3 {7 - long:.1f}Z" fill="{ACCENT}"/></g>'
    )


def _number(canvas: Canvas, axle: Axle, stance: Stance, place: Place) -> None:
    """The axle's number in a ring on its beam, left of the centre; left out where there is none."""
    x, y = place.centre + stance.offset - 20.0, place.y(axle.distance)
    y -= 20.0 * math.sin(stance.beam)
    ring = Box(x - 8.5, y - 8.5, x + 8.5, y + 8.5)
    if any(ring.meets(box) for _, box in canvas.texts):
        return
    canvas.raw(
        f'<circle cx="{x:.1f}" cy="{y:.1f}" r="8" fill="{PAPER}" stroke="{INK}" stroke-width="1"/>'
    )
    canvas.text(x, y + 3.6, str(axle.number), SMALL, bold=True, anchor="middle")


def _offset(canvas: Canvas, axle: Axle, stance: Stance, place: Place, size: str) -> None:
    """The dimension from the reference line to the axle's centre, where it can be seen."""
    x, y = place.centre, place.y(axle.distance)
    end = x + stance.offset
    canvas.path(f"M{end - 4:.1f} {y:.1f}h8M{end:.1f} {y - 4:.1f}v8", 1.0)
    if abs(stance.offset) < 3.0:
        return
    level = y + 13.0
    tip = 3.0 if stance.offset > 0 else -3.0
    canvas.path(
        f"M{end:.1f} {y + 6:.1f}V{level + 3:.1f}M{x:.1f} {level:.1f}H{end:.1f}"
        f"M{end - tip:.1f} {level - 2.5:.1f}L{end:.1f} {level:.1f}"
        f"L{end - tip:.1f} {level + 2.5:.1f}",
        0.8,
    )
    canvas.text_if_free(x + stance.offset / 2, level + 13.0, size, SMALL, "middle")
