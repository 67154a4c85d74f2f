"""What can be told of a vehicle once its unknowns are solved: offset, thrust, toe, scrub and so on.

A quantity gives its value and its derivatives by the unknowns it is made of, so that its standard
uncertainty follows from theirs (JCGM 100, 5.1.2, and 5.2.2 where unknowns are correlated).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from itertools import pairwise
from typing import TYPE_CHECKING, NamedTuple

from service.geometry.numbers import Functions, Number
from service.geometry.places import FRAME_ANGLE

if TYPE_CHECKING:
    from service.geometry.estimability import Estimability
    from service.geometry.normal import Group
    from service.geometry.row_making import RowMaker

Told = tuple[Number, tuple[Number, ...]]
"""Value and its derivatives, one for each unknown of the quantity."""
Telling = Callable[[Sequence[Number], Sequence[Number], Functions], Told]


class Part(NamedTuple):
    """The unknowns of a quantity that one group solves: which terms, where, and what they touch."""

    group: int
    places: tuple[tuple[int, int], ...]
    columns: tuple[int, ...]


class Quantity:
    """One quantity of one axle or pair.

    Attributes: `name` (as in a target row), `axle` and `reference` (axle numbers; the second is
    the front one of a pair, else None), `length` (metres if true, radians if not), `measured`
    (readings alone tell it), `baseline` (of a toe in length: its place among the numbers),
    `unknowns`, `tell` and the `parts` its variance is made of. One that hangs on a single unknown
    takes its variance from the pattern's `probe` of that unknown, its derivative being `term`.
    """

    __slots__ = (
        "axle",
        "baseline",
        "length",
        "measured",
        "name",
        "parts",
        "probe",
        "reference",
        "tell",
        "term",
        "unknowns",
    )

    def __init__(
        self,
        name: str,
        axle: int,
        unknowns: tuple[int, ...],
        tell: Telling,
        *,
        length: bool = False,
        reference: int | None = None,
        baseline: int | None = None,
    ):
        self.name = name
        self.axle = axle
        self.reference = reference
        self.length = length
        self.baseline = baseline
        self.unknowns = unknowns
        self.tell = tell
        self.measured = True
        self.parts: tuple[Part, ...] = ()
        self.probe: int | None = None
        self.term = 0

    def settle(self, measured: bool, groups: Sequence[Group], group_of: dict[int, int]) -> Quantity:
        """Note the basis and through which groups the variance runs."""
        self.measured = measured
        by_group: dict[int, list[tuple[int, int]]] = {}
        for term, unknown in enumerate(self.unknowns):
            if unknown in group_of:
                number = group_of[unknown]
                place = groups[number].place[unknown]
                by_group.setdefault(number, []).append((term, place))
        self.parts = tuple(
            Part(number, tuple(terms), groups[number].reached_columns(p for _, p in terms))
            for number, terms in by_group.items()
        )
        return self


def quantities_of(
    maker: RowMaker, telling: Estimability, groups: Sequence[Group], group_of: dict[int, int]
) -> list[Quantity]:
    """List the quantities that the readings reach, axle by axle and then pair by pair."""
    nominal = maker.nominal_numbers()
    start = [0.0] * len(maker.unknowns)
    reached = []
    for quantity in (*_axle_quantities(maker), *_pair_quantities(maker)):
        _, derivatives = quantity.tell(nominal, start, math)
        gradient = list(zip(quantity.unknowns, derivatives, strict=True))
        if telling.told(gradient) and telling.sharpened(gradient):
            measured = not telling.rests_on_assumption(gradient)
            reached.append(quantity.settle(measured, groups, group_of))
    return reached


def _axle_quantities(maker: RowMaker) -> list[Quantity]:
    found: list[Quantity] = []
    for place, (number, _, steered, _, _) in enumerate(maker.axles):
        known = {name: u for (name, at), u in maker.unknowns.items() if at == place}
        if "offset" in known:
            found += _offset_quantities(number, known["offset"])
        if "slope" in known:
            found += _thrust_quantities(maker, place, number, known["slope"])
        if "toe" in known:
            found += _toe_quantities(maker, place, number, known)
        if "beam" in known or "slope" in known:
            beam = known["beam"] if steered and "beam" in known else known.get("slope")
            if beam is not None and (not steered or "beam" in known):
                found += _beam_quantities(maker, place, number, beam, steered)
        for angle in ("camber", "caster", "wedge"):
            found += _side_quantities(number, angle, known)
    return found


def _offset_quantities(axle: int, y: int) -> list[Quantity]:
    return [
        Quantity("offset", axle, (y,), lambda v, p, f: (p[y], (1.0,)), length=True),
        Quantity("offset_difference", axle, (y,), lambda v, p, f: (2 * p[y], (2.0,)), length=True),
    ]


def _angle_of(slope: int) -> Telling:
    return lambda v, p, f: (f.atan(p[slope]), (1 / (1 + p[slope] * p[slope]),))


def _thrust_quantities(maker: RowMaker, place: int, axle: int, slope: int) -> list[Quantity]:
    found = [Quantity("thrust", axle, (slope,), _angle_of(slope))]
    if place > 0 or maker.towed:
        at = maker.distance(place)

        def difference(v: Sequence[Number], p: Sequence[Number], f: Functions) -> Told:
            return 2 * v[at] * p[slope], (2 * v[at],)

        found.append(Quantity("thrust_difference", axle, (slope,), difference, length=True))
    spread = _number_of(maker, "kingpin_span", place, 2)
    if spread is not None:
        found.append(_kingpin_difference(maker.distance(place), spread, axle, slope))
    return found


def _kingpin_difference(at: int, spread: int, axle: int, slope: int) -> Quantity:
    def tell(v: Sequence[Number], p: Sequence[Number], f: Functions) -> Told:
        cosine = f.cos(f.atan(p[slope]))
        half = v[spread] / 2
        back, out, behind = half * cosine * p[slope], half * cosine, v[at]
        right, left = f.hypot(behind + back, out), f.hypot(behind - back, out)
        by_back = (behind + back) / right + (behind - back) / left
        by_out = out / right - out / left
        return right - left, (half * cosine**3 * (by_back - p[slope] * by_out),)

    return Quantity("kingpin_difference", axle, (slope,), tell, length=True)


def _toe_quantities(
    maker: RowMaker, place: int, axle: int, known: dict[str, int]
) -> list[Quantity]:
    toe = known["toe"]
    found = [Quantity("toe", axle, (toe,), lambda v, p, f: (p[toe], (1.0,)))]
    baseline = toe_baseline(maker, place)
    if baseline is not None:
        at = baseline

        def length(v: Sequence[Number], p: Sequence[Number], f: Functions) -> Told:
            tangent = f.tan(p[toe])
            return v[at] * tangent, (v[at] * (1 + tangent * tangent),)

        found.append(Quantity("toe_length", axle, (toe,), length, length=True, baseline=at))
    if "slope" in known:
        slope = known["slope"]
        found.append(Quantity("toe_left", axle, (toe, slope), _wheel_toe(toe, slope, 1.0)))
        found.append(Quantity("toe_right", axle, (toe, slope), _wheel_toe(toe, slope, -1.0)))
    return found


def _wheel_toe(toe: int, slope: int, sign: float) -> Telling:
    return lambda v, p, f: (
        p[toe] / 2 + sign * f.atan(p[slope]),
        (0.5, sign / (1 + p[slope] * p[slope])),
    )


def toe_baseline(maker: RowMaker, place: int) -> int | None:
    """Where the axle's toe baseline stands: that of its first toe reading, else its tyres'."""
    for at, shape in zip(maker.starts, maker.shapes, strict=True):
        if maker.place[int(shape[1])] != place:
            continue
        if shape[0] == "toe_width" or (shape[0] == "toe_scale" and shape[2]):
            return at + 2
    return maker.diameter(place) if maker.axles[place][4] else None


def _beam_quantities(
    maker: RowMaker, place: int, axle: int, beam: int, steered: bool
) -> list[Quantity]:
    spread = _number_of(maker, "setback_span", place, 2)
    found = []
    if spread is not None:
        at = spread

        def setback(v: Sequence[Number], p: Sequence[Number], f: Functions) -> Told:
            cosine = f.cos(f.atan(p[beam]))
            return v[at] * cosine * p[beam], (v[at] * cosine**3,)

        found.append(Quantity("setback", axle, (beam,), setback, length=True))
    if steered or spread is not None:
        found.append(Quantity("skew", axle, (beam,), _angle_of(beam)))
    return found


def _side_quantities(axle: int, angle: str, known: dict[str, int]) -> list[Quantity]:
    found = []
    for side in ("left", "right"):
        name = f"{angle}_{side}"
        if name in known:
            tell = _level_caster if angle == "caster" else _itself
            found.append(Quantity(name, axle, (known[name],), tell(known[name])))
    if len(found) == 2:
        left, right = known[f"{angle}_left"], known[f"{angle}_right"]
        name = "wedge_difference" if angle == "wedge" else f"cross_{angle}"
        found.append(
            Quantity(name, axle, (left, right), lambda v, p, f: (p[right] - p[left], (-1.0, 1.0)))
        )
    return found


def _level_caster(unknown: int) -> Telling:
    """Caster on a level frame: what gravity shows, less the frame's slope down at the rear.

    One formula for all four printed rules (GM medium-duty manual, frame-angle correction): a frame
    that is down at the rear leans the kingpin back and reads too positive.
    """
    return lambda v, p, f: (p[unknown] - v[FRAME_ANGLE], (1.0,))


def _itself(unknown: int) -> Telling:
    return lambda v, p, f: (p[unknown], (1.0,))


def _pair_quantities(maker: RowMaker) -> list[Quantity]:
    """Scrub of each two neighbours among the axles that do not steer."""
    found: list[Quantity] = []
    straight = [place for place, axle in enumerate(maker.axles) if not axle[2]]
    for front, rear in pairwise(straight):
        slopes = [maker.unknowns.get(("slope", place)) for place in (front, rear)]
        if slopes[0] is None or slopes[1] is None:
            continue
        numbers = maker.axles[front][0], maker.axles[rear][0]
        found.append(_scrub(numbers, slopes[0], slopes[1]))
        spread = _pair_spread(maker, numbers)
        if spread is not None:
            found.append(_span_difference(numbers, slopes[0], slopes[1], spread))
    return found


def _scrub(numbers: tuple[int, int], front: int, rear: int) -> Quantity:
    def tell(v: Sequence[Number], p: Sequence[Number], f: Functions) -> Told:
        return f.atan(p[rear]) - f.atan(p[front]), (
            -1 / (1 + p[front] * p[front]),
            1 / (1 + p[rear] * p[rear]),
        )

    return Quantity("scrub", numbers[1], (front, rear), tell, reference=numbers[0])


def _span_difference(numbers: tuple[int, int], front: int, rear: int, spread: int) -> Quantity:
    def tell(v: Sequence[Number], p: Sequence[Number], f: Functions) -> Told:
        cos_front, cos_rear = f.cos(f.atan(p[front])), f.cos(f.atan(p[rear]))
        value = v[spread] * (cos_rear * p[rear] - cos_front * p[front])
        return value, (-v[spread] * cos_front**3, v[spread] * cos_rear**3)

    return Quantity(
        "span_difference", numbers[1], (front, rear), tell, length=True, reference=numbers[0]
    )


def _number_of(maker: RowMaker, kind: str, place: int, step: int) -> int | None:
    """Where a number of the axle's first reading of a kind stands, or None without one."""
    for at, shape in zip(maker.starts, maker.shapes, strict=True):
        if shape[0] == kind and maker.place[int(shape[1])] == place:
            return at + step
    return None


def _pair_spread(maker: RowMaker, numbers: tuple[int, int]) -> int | None:
    for at, shape in zip(maker.starts, maker.shapes, strict=True):
        if shape == ("axle_span", *numbers):
            return at + 2
    return None
