"""Observation equations: what one reading says of the unknowns.

Unknowns of an axle are its offset (metres), the slope of its aim and of its beam (tangents of
thrust and skew), its total toe, and camber, caster and wedge taper of each side (radians). Slopes
stand for angles because a sightline is then a straight-line equation and needs no iteration.

`equation(v, p, f)` gives observed less modelled, the derivatives of the model by the row's
unknowns, and the variance of the observation; `v` holds the numbers of readings and vehicle, `p`
the present values of the unknowns, `f` is `math` or `numpy`.
"""

from collections.abc import Sequence

from service.geometry.numbers import Functions, Number

Equation = tuple[Number, tuple[Number, ...], Number]


class Row:
    """One observation equation over `unknowns`; `linear` ones need no second look."""

    __slots__ = ("at", "linear", "reading", "unknowns")

    def __init__(self, reading: int | None, at: int, unknowns: tuple[int, ...], linear: bool):
        self.reading = reading
        self.at = at
        self.unknowns = unknowns
        self.linear = linear

    def equation(self, v: Sequence[Number], p: Sequence[Number], f: Functions) -> Equation:
        """Observed less modelled, derivatives of the model, variance of the observation."""
        raise NotImplementedError


class CentredRow(Row):
    """Assumption: the axle's centre is on the frame centreline, give or take."""

    __slots__ = ()

    def equation(self, v: Sequence[Number], p: Sequence[Number], f: Functions) -> Equation:
        u = v[self.at]
        return -p[self.unknowns[0]], (1.0,), u * u


class FrameGapRow(Row):
    """Half the side-to-side difference of the gaps is the offset."""

    __slots__ = ()

    def equation(self, v: Sequence[Number], p: Sequence[Number], f: Functions) -> Equation:
        at = self.at
        u = v[at + 2]
        return (v[at + 1] - v[at]) / 2 - p[self.unknowns[0]], (1.0,), u * u / 2


class SetbackSpanRow(Row):
    """The difference of the spans over their spread is the sine of the beam's skew."""

    __slots__ = ()

    def equation(self, v: Sequence[Number], p: Sequence[Number], f: Functions) -> Equation:
        at = self.at
        difference, spread, u = v[at + 1] - v[at], v[at + 2], v[at + 3]
        square = spread * spread
        cosine_square = square - difference * difference
        # The tangent of the skew, and by how much it moves with the difference.
        slope = difference / f.sqrt(cosine_square)
        rate = square / (cosine_square * f.sqrt(cosine_square))
        return slope - p[self.unknowns[0]], (1.0,), 2 * u * u * rate * rate


class AxleSpanRow(Row):
    """Difference of the two distances between the ends of two axles.

    Unknowns: slope and offset of the front axle's beam, slope and offset of the rear one's.
    """

    __slots__ = ("front", "rear")

    def __init__(self, reading: int, at: int, unknowns: tuple[int, ...], front: int, rear: int):
        super().__init__(reading, at, unknowns, linear=False)
        self.front = front
        self.rear = rear

    def equation(self, v: Sequence[Number], p: Sequence[Number], f: Functions) -> Equation:
        at, (front, y_front, rear, y_rear) = self.at, self.unknowns
        half, u = v[at + 2] / 2, v[at + 3]
        apart = v[self.rear] - v[self.front]
        aside = p[y_rear] - p[y_front]
        cos_front, cos_rear = f.cos(f.atan(p[front])), f.cos(f.atan(p[rear]))
        back = half * (cos_rear * p[rear] - cos_front * p[front])
        out = half * (cos_rear - cos_front)
        right, left = f.hypot(apart + back, aside + out), f.hypot(apart - back, aside - out)
        by_back = (apart + back) / right + (apart - back) / left
        by_out = (aside + out) / right + (aside - out) / left
        by_aside = (aside + out) / right - (aside - out) / left
        # d(sine)/d(slope) = cosine^3 and d(cosine)/d(slope) = -slope cosine^3.
        by_front = -half * cos_front**3 * (by_back - p[front] * by_out)
        by_rear = half * cos_rear**3 * (by_back - p[rear] * by_out)
        rest = v[at + 1] - v[at] - (right - left)
        return rest, (by_front, -by_aside, by_rear, by_aside), 2 * u * u


class KingpinSpanRow(Row):
    """Difference of the distances from a pin on the centreline to the two axle ends.

    Unknowns: slope, offset. The offset enters almost as the aim does: an axle that is off centre
    reads like one that aims wrong.
    """

    __slots__ = ("distance",)

    def __init__(self, reading: int, at: int, unknowns: tuple[int, ...], distance: int):
        super().__init__(reading, at, unknowns, linear=False)
        self.distance = distance

    def equation(self, v: Sequence[Number], p: Sequence[Number], f: Functions) -> Equation:
        at, (slope, offset) = self.at, self.unknowns
        half, u = v[at + 2] / 2, v[at + 3]
        cosine = f.cos(f.atan(p[slope]))
        back, out = half * cosine * p[slope], half * cosine
        behind, aside = v[self.distance], p[offset]
        right, left = f.hypot(behind + back, aside + out), f.hypot(behind - back, aside - out)
        by_back = (behind + back) / right + (behind - back) / left
        by_out = (aside + out) / right + (aside - out) / left
        by_offset = (aside + out) / right - (aside - out) / left
        by_slope = half * cosine**3 * (by_back - p[slope] * by_out)
        rest = v[at + 1] - v[at] - (right - left)
        return rest, (by_slope, by_offset), 2 * u * u


class ToeScaleRow(Row):
    """The stated tangent is that of the total toe."""

    __slots__ = ()

    def equation(self, v: Sequence[Number], p: Sequence[Number], f: Functions) -> Equation:
        slope = v[self.at]
        u = v[self.at + 1] / (1 + slope * slope)
        return f.atan(slope) - p[self.unknowns[0]], (1.0,), u * u


class ToeWidthRow(Row):
    """Each scribe line leans in by half the toe, so the widths differ by twice its tangent."""

    __slots__ = ()

    def equation(self, v: Sequence[Number], p: Sequence[Number], f: Functions) -> Equation:
        at = self.at
        half_slope = (v[at + 1] - v[at]) / (2 * v[at + 2])
        u = v[at + 3] / (v[at + 2] * (1 + half_slope * half_slope))
        return 2 * f.atan(half_slope) - p[self.unknowns[0]], (1.0,), 2 * u * u


class WheelToeRow(Row):
    """Toe of one wheel: half the total, plus the axle's aim on the left, less it on the right.

    Unknowns: toe, slope.
    """

    __slots__ = ("sign",)

    def __init__(self, reading: int, at: int, unknowns: tuple[int, ...], sign: float):
        super().__init__(reading, at, unknowns, linear=False)
        self.sign = sign

    def equation(self, v: Sequence[Number], p: Sequence[Number], f: Functions) -> Equation:
        slope, u = p[self.unknowns[1]], v[self.at + 1]
        model = p[self.unknowns[0]] / 2 + self.sign * f.atan(slope)
        return v[self.at] - model, (0.5, self.sign / (1 + slope * slope)), u * u


class DirectRow(Row):
    """The reading is the unknown; its value stands at `at`, its uncertainty at `uncertainty`."""

    __slots__ = ("uncertainty",)

    def __init__(self, reading: int, at: int, unknowns: tuple[int, ...], uncertainty: int):
        super().__init__(reading, at, unknowns, linear=True)
        self.uncertainty = uncertainty

    def equation(self, v: Sequence[Number], p: Sequence[Number], f: Functions) -> Equation:
        u = v[self.uncertainty]
        return v[self.at] - p[self.unknowns[0]], (1.0,), u * u


class CasterSweepRow(Row):
    """Camber change between the turns over twice the sine of the turn.

    The wheel inside the turn gains positive camber where caster is positive, hence the sign: plus
    for the left wheel, minus for the right one.
    """

    __slots__ = ("sign",)

    def __init__(self, reading: int, at: int, unknowns: tuple[int, ...], sign: float):
        super().__init__(reading, at, unknowns, linear=True)
        self.sign = sign

    def equation(self, v: Sequence[Number], p: Sequence[Number], f: Functions) -> Equation:
        at = self.at
        swing = 2 * f.sin(v[at])
        u = v[at + 3] / swing
        caster = self.sign * (v[at + 1] - v[at + 2]) / swing
        return caster - p[self.unknowns[0]], (1.0,), 2 * u * u
