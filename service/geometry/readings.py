"""The readings of the trade in SI units, each with its standard uncertainty.

Every reading names its axle by number. `u` is the standard uncertainty (k=1) of one side of one
reading, in metres or radians. `shape()` is what kind of equation the reading makes, `numbers()`
what stands in it: vehicles whose shapes are equal are solved as stacked arrays. The numbers are
fields that follow each other, so that they are cut out as a slice.
"""

from typing import NamedTuple

Shape = tuple[str | int | bool, ...]


class Sightline(NamedTuple):
    """A line along the axle's tyres meets a scale at the reference axle, both sides.

    `left`, `right`: outboard of the reference axle's sidewall, metres. `reference`: axle number,
    0 for the kingpin or drawbar eye. `rehang`: standard uncertainty of the line's aim, radians.
    """

    axle: int
    left: float
    right: float
    u: float
    rehang: float
    reference: int

    def shape(self) -> Shape:
        """Kind, axle and the axle that carries the scale."""
        return ("sightline", self.axle, self.reference)

    def numbers(self) -> tuple[float, ...]:
        """Left, right, uncertainty, re-hang angle."""
        return self[1:5]


class FrameGap(NamedTuple):
    """Tape from frame rail to tyre sidewall, both sides, metres."""

    axle: int
    left: float
    right: float
    u: float

    def shape(self) -> Shape:
        """Kind and axle."""
        return ("frame_gap", self.axle)

    def numbers(self) -> tuple[float, ...]:
        """Left, right, uncertainty."""
        return self[1:]


class SetbackSpan(NamedTuple):
    """Tape from a fixed frame point back to the axle beam, both sides, `spread` apart, metres."""

    axle: int
    left: float
    right: float
    spread: float
    u: float

    def shape(self) -> Shape:
        """Kind and axle."""
        return ("setback_span", self.axle)

    def numbers(self) -> tuple[float, ...]:
        """Left, right, spread, uncertainty."""
        return self[1:]


class AxleSpan(NamedTuple):
    """Tape from axle end to axle end of two axles, both sides, `spread` apart, metres."""

    front: int
    rear: int
    left: float
    right: float
    spread: float
    u: float

    def shape(self) -> Shape:
        """Kind, front axle and rear axle."""
        return ("axle_span", self.front, self.rear)

    def numbers(self) -> tuple[float, ...]:
        """Left, right, spread, uncertainty."""
        return self[2:]


class KingpinSpan(NamedTuple):
    """Tape from the kingpin to the axle ends, both sides, `spread` apart, metres."""

    axle: int
    left: float
    right: float
    spread: float
    u: float

    def shape(self) -> Shape:
        """Kind and axle."""
        return ("kingpin_span", self.axle)

    def numbers(self) -> tuple[float, ...]:
        """Left, right, spread, uncertainty."""
        return self[1:]


class ToeWidth(NamedTuple):
    """Scribe-line distance across the front and the rear of the tyres over a baseline, metres."""

    axle: int
    front: float
    rear: float
    baseline: float
    u: float

    def shape(self) -> Shape:
        """Kind and axle."""
        return ("toe_width", self.axle)

    def numbers(self) -> tuple[float, ...]:
        """Front, rear, baseline, uncertainty."""
        return self[1:]


class ToeScale(NamedTuple):
    """Total toe as the tangent that a scale states: length over baseline, toe-in positive.

    `u` is the standard uncertainty of that tangent; `baseline` (metres) is None where the scale
    is marked in angle or slope.
    """

    axle: int
    slope: float
    u: float
    baseline: float | None = None

    def shape(self) -> Shape:
        """Kind, axle and whether a baseline is stated."""
        return ("toe_scale", self.axle, self.baseline is not None)

    def numbers(self) -> tuple[float, ...]:
        """Slope, uncertainty, baseline (0 where there is none)."""
        return (self.slope, self.u, self.baseline or 0.0)


class WheelAngle(NamedTuple):
    """One angle of one wheel, radians; `angle` is "toe", "camber" or "caster"."""

    axle: int
    side: str
    angle: str
    value: float
    u: float

    def shape(self) -> Shape:
        """Kind, axle, side and which angle."""
        return ("wheel_angle", self.axle, self.side, self.angle)

    def numbers(self) -> tuple[float, ...]:
        """Value, uncertainty."""
        return self[3:]


class CasterSweep(NamedTuple):
    """Camber of one wheel at a left and at a right turn of the same angle, radians."""

    axle: int
    side: str
    turn: float
    camber_left_turn: float
    camber_right_turn: float
    u: float

    def shape(self) -> Shape:
        """Kind, axle and side."""
        return ("caster_sweep", self.axle, self.side)

    def numbers(self) -> tuple[float, ...]:
        """Turn, camber at the left turn, camber at the right turn, uncertainty."""
        return self[2:]


class Wedge(NamedTuple):
    """Taper of the caster wedge of each side, radians, thick end to the rear positive."""

    axle: int
    left: float
    right: float
    u: float

    def shape(self) -> Shape:
        """Kind and axle."""
        return ("wedge", self.axle)

    def numbers(self) -> tuple[float, ...]:
        """Left, right, uncertainty."""
        return self[1:]


FIRST = {
    Sightline: 1,
    FrameGap: 1,
    SetbackSpan: 1,
    AxleSpan: 2,
    KingpinSpan: 1,
    ToeWidth: 1,
    ToeScale: 1,
    WheelAngle: 3,
    CasterSweep: 2,
    Wedge: 1,
}
"""Of each kind the place of the first field that is one of its numbers."""

Reading = (
    Sightline
    | FrameGap
    | SetbackSpan
    | AxleSpan
    | KingpinSpan
    | ToeWidth
    | ToeScale
    | WheelAngle
    | CasterSweep
    | Wedge
)
