"""What every scale and tape shows of a vehicle that stands in a known way: the readings' inverse.

Each mark is exact up to a constant of its reading (standoff of a line, width of a rail, where a
frame point lies), so that the difference of the marks of two states is what the reading changes by.
Lengths in metres, angles in radians.
"""

import math
from collections.abc import Callable, Sequence
from typing import Any, NamedTuple

from service.geometry.pattern import Pattern
from service.geometry.readings import (
    AxleSpan,
    CasterSweep,
    FrameGap,
    KingpinSpan,
    Reading,
    SetbackSpan,
    Sightline,
    ToeScale,
    ToeWidth,
    Wedge,
    WheelAngle,
)


class State(NamedTuple):
    """A vehicle as it stands: the numbers (distances, widths) and the unknowns of its pattern."""

    pattern: Pattern
    numbers: Sequence[float]
    unknowns: Sequence[float]

    def of(self, name: str, axle: int) -> float:
        """An unknown of an axle; one that no reading reaches counts as nothing."""
        place = self.pattern.unknown_of.get((name, axle))
        return 0.0 if place is None else self.unknowns[place]

    def distance(self, axle: int) -> float:
        """Distance rearward of an axle, metres; of axle 0, the pin, nothing."""
        return 0.0 if axle == 0 else self.numbers[self.pattern.distance_of[axle]]

    def half_width(self, axle: int) -> float:
        """Half the width over an axle's tyres, metres."""
        return self.numbers[self.pattern.width_of[axle]] / 2

    def aim(self, axle: int) -> float:
        """Where the wheels aim, radians."""
        return math.atan(self.of("slope", axle))

    def beam(self, axle: int) -> float:
        """How the beam stands, radians: its own skew where it steers."""
        has_beam = ("beam", axle) in self.pattern.unknown_of
        return math.atan(self.of("beam" if has_beam else "slope", axle))


Marks = tuple[tuple[str, float], ...]


def marks(reading: Reading, state: State) -> Marks:
    """Name and value of each mark of a reading, up to the reading's constant."""
    return _MARKS[type(reading)](reading, state)


def observed(reading: Reading) -> Marks:
    """The marks as they were read, in the same order."""
    names = MARK_NAMES[type(reading)]
    return tuple((name, getattr(reading, field)) for name, field in names)


MARK_NAMES: dict[type, tuple[tuple[str, str], ...]] = {
    Sightline: (("left", "left"), ("right", "right")),
    FrameGap: (("left", "left"), ("right", "right")),
    SetbackSpan: (("left", "left"), ("right", "right")),
    AxleSpan: (("left", "left"), ("right", "right")),
    KingpinSpan: (("left", "left"), ("right", "right")),
    ToeWidth: (("front", "front"), ("rear", "rear")),
    ToeScale: (("toe", "slope"),),
    WheelAngle: (("angle", "value"),),
    CasterSweep: (
        ("camber_left_turn", "camber_left_turn"),
        ("camber_right_turn", "camber_right_turn"),
    ),
    Wedge: (("left", "left"), ("right", "right")),
}


def _sightline(reading: Sightline, state: State) -> Marks:
    aim, toe = state.aim(reading.axle), state.of("toe", reading.axle)
    offset, half = state.of("offset", reading.axle), state.half_width(reading.axle)
    reach = state.distance(reading.axle) - state.distance(reading.reference)
    reference = state.of("offset", reading.reference)
    forth, out = half * math.sin(aim), half * math.cos(aim)
    right = offset + out + (reach + forth) * math.tan(aim - toe / 2) - reference
    left = reference - (offset - out + (reach - forth) * math.tan(aim + toe / 2))
    return ("left", left), ("right", right)


def _frame_gap(reading: FrameGap, state: State) -> Marks:
    out = state.half_width(reading.axle) * math.cos(state.aim(reading.axle))
    offset = state.of("offset", reading.axle)
    return ("left", out - offset), ("right", out + offset)


def _setback_span(reading: SetbackSpan, state: State) -> Marks:
    back = reading.spread / 2 * math.sin(state.beam(reading.axle))
    distance = state.distance(reading.axle)
    return ("left", distance - back), ("right", distance + back)


def _ends(
    state: State, axle: int, spread: float
) -> tuple[tuple[float, float], tuple[float, float]]:
    """Left and right end of a beam: rearward of the reference point, and right of the frame."""
    beam = state.beam(axle)
    back, out = spread / 2 * math.sin(beam), spread / 2 * math.cos(beam)
    behind, aside = state.distance(axle), state.of("offset", axle)
    return (behind - back, aside - out), (behind + back, aside + out)


def _axle_span(reading: AxleSpan, state: State) -> Marks:
    front = _ends(state, reading.front, reading.spread)
    rear = _ends(state, reading.rear, reading.spread)
    return ("left", math.dist(front[0], rear[0])), ("right", math.dist(front[1], rear[1]))


def _kingpin_span(reading: KingpinSpan, state: State) -> Marks:
    left, right = _ends(state, reading.axle, reading.spread)
    return ("left", math.hypot(*left)), ("right", math.hypot(*right))


def _toe_width(reading: ToeWidth, state: State) -> Marks:
    lean = reading.baseline * math.tan(state.of("toe", reading.axle) / 2)
    return ("front", -lean), ("rear", lean)


def _toe_scale(reading: ToeScale, state: State) -> Marks:
    return (("toe", math.tan(state.of("toe", reading.axle))),)


def _wheel_angle(reading: WheelAngle, state: State) -> Marks:
    if reading.angle == "toe":
        sign = 1 if reading.side == "left" else -1
        half = state.of("toe", reading.axle) / 2
        return (("angle", half + sign * state.aim(reading.axle)),)
    return (("angle", state.of(f"{reading.angle}_{reading.side}", reading.axle)),)


def _caster_sweep(reading: CasterSweep, state: State) -> Marks:
    caster = state.of(f"caster_{reading.side}", reading.axle)
    swing = caster * math.sin(reading.turn) * (1 if reading.side == "left" else -1)
    return ("camber_left_turn", swing), ("camber_right_turn", -swing)


def _wedge(reading: Wedge, state: State) -> Marks:
    return ("left", state.of("wedge_left", reading.axle)), (
        "right",
        state.of("wedge_right", reading.axle),
    )


_MARKS: dict[type, Callable[[Any, State], Marks]] = {
    Sightline: _sightline,
    FrameGap: _frame_gap,
    SetbackSpan: _setback_span,
    AxleSpan: _axle_span,
    KingpinSpan: _kingpin_span,
    ToeWidth: _toe_width,
    ToeScale: _toe_scale,
    WheelAngle: _wheel_angle,
    CasterSweep: _caster_sweep,
    Wedge: _wedge,
}
