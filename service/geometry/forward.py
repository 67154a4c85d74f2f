"""What every scale and tape shows of a vehicle that stands in a known way: the readings' inverse.

Each mark is exact up to a constant of its reading (standoff of a line, width of a rail, where a
frame point lies), so that the difference of the marks of two states is what the reading changes by.
Lengths in metres, angles in radians. Where numbers and unknowns of a pattern stand is looked up
once a pattern: what is asked of every vehicle is arithmetic alone.
"""

from collections.abc import Callable, Sequence
from math import atan, cos, dist, hypot, sin, tan
from typing import Any, NamedTuple

from service.geometry.pattern import Pattern
from service.geometry.readings import (
    AxleSpan,
    CasterSweep,
    FrameGap,
    KingpinSpan,
    SetbackSpan,
    Shape,
    Sightline,
    ToeScale,
    ToeWidth,
    Wedge,
    WheelAngle,
)

NOTHING = -1
"""Place of the 0 at the end of the unknowns: of one that no reading reaches."""

Marks = tuple[float, ...]
"""What the scales of one reading show, in the order of its names."""
Shown = Callable[[Any, Sequence[float], Sequence[float]], Marks]
"""Marks of a reading by what else it states (spread, baseline, turn), numbers and unknowns."""


class State(NamedTuple):
    """A vehicle as it stands: the numbers (distances, widths) and the unknowns of its pattern.

    The unknowns have a 0 at their end, so that what no reading reaches has a place too.
    """

    pattern: Pattern
    numbers: Sequence[float]
    unknowns: list[float]


def state_of(pattern: Pattern, numbers: Sequence[float], unknowns: Sequence[float]) -> State:
    """The state of a vehicle as it was solved."""
    return State(pattern, numbers, [*unknowns, 0.0])


class Gauge(NamedTuple):
    """One reading of a pattern: names of its marks, which fields hold them as read, what it shows.

    `show` takes the reading and the numbers and unknowns of a state.
    """

    names: tuple[str, ...]
    read: slice
    show: Shown


def gauges_of(pattern: Pattern) -> list[Gauge]:
    """The readings of a pattern in their order, worked out once a pattern."""
    gauges: list[Gauge] | None = pattern.kept.get("gauges")
    if gauges is None:
        places = _Places(pattern)
        gauges = pattern.kept["gauges"] = [
            _gauge(places, shape) for shape in pattern.shape.readings
        ]
    return gauges


def _gauge(places: "_Places", shape: Shape) -> Gauge:
    names, read, showing = _KINDS[str(shape[0])]
    return Gauge(names, read, showing(places, *shape[1:]))


class _Places:
    """Where the numbers and unknowns of an axle stand in a pattern."""

    def __init__(self, pattern: Pattern) -> None:
        self.pattern = pattern

    def of(self, name: str, axle: int) -> int:
        """An unknown of an axle; one that no reading reaches counts as nothing."""
        return self.pattern.unknown_of.get((name, axle), NOTHING)

    def distance(self, axle: int) -> int:
        """Distance rearward of an axle, metres."""
        return self.pattern.distance_of[axle]

    def width(self, axle: int) -> int:
        """Width over an axle's tyres, metres."""
        return self.pattern.width_of[axle]

    def beam(self, axle: int) -> int:
        """Tangent of how the beam stands: its own skew where it steers, else where it aims."""
        own = self.of("beam", axle)
        return self.of("slope", axle) if own == NOTHING else own


def _sightline(at: _Places, axle: int, carrier: int) -> Shown:
    slope, toe, offset, aside = (
        at.of("slope", axle),
        at.of("toe", axle),
        at.of("offset", axle),
        at.of("offset", carrier),
    )
    behind, width = at.distance(axle), at.width(axle)
    ahead = at.distance(carrier) if carrier else None  # The pin, axle 0, is where distances start.

    def show(_: Sightline, v: Sequence[float], p: Sequence[float]) -> Marks:
        aim, half_toe, half = atan(p[slope]), p[toe] / 2, v[width] / 2
        reach, reference = v[behind] if ahead is None else v[behind] - v[ahead], p[aside]
        forth, out = half * sin(aim), half * cos(aim)
        right = p[offset] + out + (reach + forth) * tan(aim - half_toe) - reference
        left = reference - (p[offset] - out + (reach - forth) * tan(aim + half_toe))
        return left, right

    return show


def _frame_gap(at: _Places, axle: int) -> Shown:
    slope, offset, width = at.of("slope", axle), at.of("offset", axle), at.width(axle)

    def show(_: FrameGap, v: Sequence[float], p: Sequence[float]) -> Marks:
        out = v[width] / 2 * cos(atan(p[slope]))
        return out - p[offset], out + p[offset]

    return show


def _setback_span(at: _Places, axle: int) -> Shown:
    beam, behind = at.beam(axle), at.distance(axle)

    def show(reading: SetbackSpan, v: Sequence[float], p: Sequence[float]) -> Marks:
        back = reading.spread / 2 * sin(atan(p[beam]))
        return v[behind] - back, v[behind] + back

    return show


End = tuple[float, float]
"""End of a beam: rearward of the reference point, and right of the frame's middle."""


def _ends(
    at: _Places, axle: int
) -> Callable[[float, Sequence[float], Sequence[float]], tuple[End, End]]:
    """Left and right end of a beam, a spread apart."""
    beam, behind, offset = at.beam(axle), at.distance(axle), at.of("offset", axle)

    def ends(spread: float, v: Sequence[float], p: Sequence[float]) -> tuple[End, End]:
        stand = atan(p[beam])
        back, out = spread / 2 * sin(stand), spread / 2 * cos(stand)
        return (v[behind] - back, p[offset] - out), (v[behind] + back, p[offset] + out)

    return ends


def _axle_span(at: _Places, front: int, rear: int) -> Shown:
    ahead, behind = _ends(at, front), _ends(at, rear)

    def show(reading: AxleSpan, v: Sequence[float], p: Sequence[float]) -> Marks:
        left, right = ahead(reading.spread, v, p)
        rear_left, rear_right = behind(reading.spread, v, p)
        return dist(left, rear_left), dist(right, rear_right)

    return show


def _kingpin_span(at: _Places, axle: int) -> Shown:
    ends = _ends(at, axle)

    def show(reading: KingpinSpan, v: Sequence[float], p: Sequence[float]) -> Marks:
        left, right = ends(reading.spread, v, p)
        return hypot(*left), hypot(*right)

    return show


def _toe_width(at: _Places, axle: int) -> Shown:
    toe = at.of("toe", axle)

    def show(reading: ToeWidth, _: Sequence[float], p: Sequence[float]) -> Marks:
        lean = reading.baseline * tan(p[toe] / 2)
        return -lean, lean

    return show


def _toe_scale(at: _Places, axle: int, _: bool) -> Shown:
    toe = at.of("toe", axle)
    return lambda reading, v, p: (tan(p[toe]),)


def _wheel_angle(at: _Places, axle: int, side: str, angle: str) -> Shown:
    if angle == "toe":
        toe, slope, sign = at.of("toe", axle), at.of("slope", axle), 1 if side == "left" else -1
        return lambda reading, v, p: (p[toe] / 2 + sign * atan(p[slope]),)
    own = at.of(f"{angle}_{side}", axle)
    return lambda reading, v, p: (p[own],)


def _caster_sweep(at: _Places, axle: int, side: str) -> Shown:
    caster, sign = at.of(f"caster_{side}", axle), 1 if side == "left" else -1

    def show(reading: CasterSweep, _: Sequence[float], p: Sequence[float]) -> Marks:
        swing = p[caster] * sin(reading.turn) * sign
        return swing, -swing

    return show


def _wedge(at: _Places, axle: int) -> Shown:
    left, right = at.of("wedge_left", axle), at.of("wedge_right", axle)
    return lambda reading, v, p: (p[left], p[right])


def _fields(reading: Any, *names: str) -> slice:
    """Fields of a kind of reading that follow each other."""
    first = reading._fields.index(names[0])
    return slice(first, first + len(names))


_SIDES = ("left", "right")
_WIDTHS = ("front", "rear")
_TURNS = ("camber_left_turn", "camber_right_turn")

_KINDS: dict[str, tuple[tuple[str, ...], slice, Callable[..., Shown]]] = {
    "sightline": (_SIDES, _fields(Sightline, *_SIDES), _sightline),
    "frame_gap": (_SIDES, _fields(FrameGap, *_SIDES), _frame_gap),
    "setback_span": (_SIDES, _fields(SetbackSpan, *_SIDES), _setback_span),
    "axle_span": (_SIDES, _fields(AxleSpan, *_SIDES), _axle_span),
    "kingpin_span": (_SIDES, _fields(KingpinSpan, *_SIDES), _kingpin_span),
    "toe_width": (_WIDTHS, _fields(ToeWidth, *_WIDTHS), _toe_width),
    "toe_scale": (("toe",), _fields(ToeScale, "slope"), _toe_scale),
    "wheel_angle": (("angle",), _fields(WheelAngle, "value"), _wheel_angle),
    "caster_sweep": (_TURNS, _fields(CasterSweep, *_TURNS), _caster_sweep),
    "wedge": (_SIDES, _fields(Wedge, *_SIDES), _wedge),
}
