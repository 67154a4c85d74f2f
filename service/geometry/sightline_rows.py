"""Observation equations of sightlines: two lines along an axle's tyres against a far scale."""

from collections.abc import Sequence

from service.geometry.numbers import Functions, Number
from service.geometry.rows import Equation, Row


class SightlineRow(Row):
    """Half the difference of the two scale readings; toe not known, so taken as none.

    Unknowns: slope, offset, and the offset of the reference axle unless that is a pin on the
    centreline. Without toe the two lines are parallel and the equation is exact and straight.
    """

    __slots__ = ("distance", "reference")

    def __init__(
        self, reading: int, at: int, unknowns: tuple[int, ...], distance: int, reference: int | None
    ):
        super().__init__(reading, at, unknowns, linear=True)
        self.distance = distance
        self.reference = reference

    def reach(self, v: Sequence[Number]) -> Number:
        """Distance from the scale back to the axle."""
        return v[self.distance] if self.reference is None else v[self.distance] - v[self.reference]

    def equation(self, v: Sequence[Number], p: Sequence[Number], f: Functions) -> Equation:
        at, unknowns = self.at, self.unknowns
        reach = self.reach(v)
        model = p[unknowns[1]] + reach * p[unknowns[0]]
        turn = reach * v[at + 3]
        variance = (v[at + 2] * v[at + 2] + turn * turn) / 2
        half = (v[at + 1] - v[at]) / 2
        if len(unknowns) == 2:
            return half - model, (reach, 1.0), variance
        return half - model + p[unknowns[2]], (reach, 1.0, -1.0), variance


class ToedSightlineRow(SightlineRow):
    """The same where the axle's toe is an unknown too: the two lines converge.

    Unknowns: slope, offset, toe, and the offset of the reference axle unless a pin. A line starts
    at the tyre sidewall half the width out along the axle, which the axle's aim carries forward on
    one side and rearward on the other.
    """

    __slots__ = ("width",)

    def __init__(
        self,
        reading: int,
        at: int,
        unknowns: tuple[int, ...],
        distance: int,
        reference: int | None,
        width: int,
    ):
        super().__init__(reading, at, unknowns, distance, reference)
        self.linear = False
        self.width = width

    def equation(self, v: Sequence[Number], p: Sequence[Number], f: Functions) -> Equation:
        at, unknowns = self.at, self.unknowns
        reach, quarter = self.reach(v), v[self.width] / 4
        slope, toe = p[unknowns[0]], p[unknowns[2]]
        aim = f.atan(slope)
        right, left = f.tan(aim - toe / 2), f.tan(aim + toe / 2)
        right_rate, left_rate = 1 + right * right, 1 + left * left
        sine, cosine = f.sin(aim), f.cos(aim)
        model = p[unknowns[1]] + reach * (right + left) / 2 + quarter * sine * (right - left)
        by_aim = reach * (right_rate + left_rate) / 2 + quarter * (
            cosine * (right - left) + sine * (right_rate - left_rate)
        )
        by_toe = (
            reach * (left_rate - right_rate) / 4 - quarter * sine * (left_rate + right_rate) / 2
        )
        by_slope = by_aim * cosine * cosine
        turn = reach * v[at + 3]
        variance = (v[at + 2] * v[at + 2] + turn * turn) / 2
        rest = (v[at + 1] - v[at]) / 2 - model
        if len(unknowns) == 3:
            return rest, (by_slope, 1.0, by_toe), variance
        return rest + p[unknowns[3]], (by_slope, 1.0, by_toe, -1.0), variance


class SightlineSpreadRow(SightlineRow):
    """Half the sum of the two scale readings: how far the lines converge, so the toe.

    Only where both widths over the tyres were taped; else the sum holds an unknown standoff and
    says nothing. Unknowns: slope, toe.

    The aim enters the sum by its square only, some ten thousandths of an inch. Its derivative is
    given as nothing all the same: a standoff that was not nothing leaves a residual of inches here,
    and through that derivative it would bend an aim that the difference tells rightly.
    """

    __slots__ = ("reference_width", "tape", "width")

    def __init__(
        self,
        reading: int,
        at: int,
        unknowns: tuple[int, ...],
        distance: int,
        reference: int | None,
        width: int,
        reference_width: int | None,
        tape: int,
    ):
        super().__init__(reading, at, unknowns, distance, reference)
        self.linear = False
        self.width = width
        self.reference_width = reference_width
        self.tape = tape

    def equation(self, v: Sequence[Number], p: Sequence[Number], f: Functions) -> Equation:
        at = self.at
        reach, half = self.reach(v), v[self.width] / 2
        aim, toe = f.atan(p[self.unknowns[0]]), p[self.unknowns[1]]
        right, left = f.tan(aim - toe / 2), f.tan(aim + toe / 2)
        right_rate, left_rate = 1 + right * right, 1 + left * left
        sine, cosine = f.sin(aim), f.cos(aim)
        inner = 0.0 if self.reference_width is None else v[self.reference_width] / 2
        model = (
            half * cosine + reach * (right - left) / 2 + half * sine * (right + left) / 2 - inner
        )
        by_toe = -reach * (right_rate + left_rate) / 4 + half * sine * (left_rate - right_rate) / 4
        turn, tape = reach * v[at + 3], v[self.tape]
        tapes = 1 if self.reference_width is None else 2
        variance = (v[at + 2] * v[at + 2] + turn * turn) / 2 + tapes * tape * tape / 4
        rest = (v[at + 1] + v[at]) / 2 - model
        return rest, (0.0, by_toe), variance
