"""Which values a plan may move and which findings bound them: one row of values for each matter.

Offsets, aims, beams and toes are independent matters; aims of axles behind each other and the two
wedges of an axle hang together through findings on their difference. Rows are made only where
something is broken, and in the order in which one bears on the next: an axle that turns about one
end shifts its centre, and toe of a wheel hangs on the aim.
"""

import math
from collections.abc import Iterable, Mapping, Sequence

from service.geometry.planning.adjusters import LATERAL, LONGITUDINAL, TIE_ROD, WEDGE, Adjuster
from service.geometry.planning.limits import (
    SPAN_MARGIN,
    ByLength,
    Limits,
    Told,
    ToValue,
    arc,
    less,
    same,
    settled,
    tangent,
)
from service.geometry.planning.moving import pivoted
from service.geometry.planning.rows import (
    AIM,
    CENTRE,
    MATCH_WEDGES,
    SET_TOE,
    SQUARE,
    UNLINKED,
    Link,
    Row,
    Value,
)
from service.geometry.solve import Solved

NEED = {
    CENTRE: LATERAL,
    AIM: LONGITUDINAL,
    SQUARE: LONGITUDINAL,
    MATCH_WEDGES: WEDGE,
    SET_TOE: TIE_ROD,
}
"""The adjuster that an action turns."""

SIDES = ("left", "right")
OF_SIDE = {side: (f"caster_{side}", f"wedge_{side}") for side in SIDES}
WEDGE_LINKS = ("wedge_difference", "cross_caster")
AIM_LINKS = ("scrub", "span_difference")

OFFSETS = frozenset({"offset", "offset_difference"})
BEAMS = frozenset({"setback", "skew"})
WHEEL_TOES = frozenset({"toe_left", "toe_right"})
TOES = WHEEL_TOES | {"toe", "toe_length"}
WEDGES = frozenset({*OF_SIDE["left"], *OF_SIDE["right"], *WEDGE_LINKS})
AIMS = BEAMS | WHEEL_TOES | {"thrust", "thrust_difference", "kingpin_difference", *AIM_LINKS}
"""Quantities by the action that mends them; a single wheel's toe hangs on two."""


SKEW = Told("skew", same)


class Scope:
    """Makes the rows of one vehicle."""

    def __init__(
        self, solved: Solved, limits: Limits, adjusters: Mapping[int, Sequence[Adjuster]]
    ) -> None:
        self.solved = solved
        self.limits = limits
        self.adjusters = adjusters
        self.unknown = solved.pattern.unknown_of

    def aims(self) -> Row | None:
        """Aims of the axles that do not steer, front to rear."""
        limits = self.limits
        straight = [axle[0] for axle in self.solved.pattern.shape.axles if not axle[2]]
        if not any(limits.any_broken(AIMS, axle) for axle in straight if axle in limits.broken):
            return None
        places: list[list[Value]] = []
        links: list[Link] = []
        for axle in straight:
            place = self.unknown.get(("slope", axle))
            if place is None:
                continue
            start = math.atan(self.solved.unknowns[place])
            made = [self._aim(axle, place, start, one) for one in self._makes(AIM, axle)]
            if places:
                links.append(self._aim_link(axle, [*places[-1], *made]))
            places.append(made)
        return Row(places, links)

    def aim_of(self, axle: int) -> float | None:
        """Where the wheels of an axle aim, None where nothing tells it."""
        place = self.unknown.get(("slope", axle))
        return None if place is None else math.atan(self.solved.unknowns[place])

    def square(self, axle: int) -> Row | None:
        """How the beam of a steered axle stands."""
        if not self.limits.any_broken(BEAMS, axle):
            return None
        told = [SKEW]
        if self.limits.has("setback", axle):
            told.append(Told("setback", arc(self.limits.length("setback", axle))))
        place = self.unknown["beam", axle]
        return self._single(SQUARE, axle, place, math.atan(self.solved.unknowns[place]), told)

    def centre(self, axle: int, shift: float) -> Row | None:
        """Offset of an axle whose centre will shift right by a length as it is turned later."""
        if not self.limits.any_broken(OFFSETS, axle):
            return None
        told = [
            Told("offset", less(shift)),
            Told("offset_difference", lambda value: value / 2 - shift),
        ]
        place = self.unknown["offset", axle]
        return self._single(CENTRE, axle, place, self.solved.unknowns[place], told)

    def toe(self, axle: int, aim: float | None) -> Row | None:
        """Total toe of an axle whose aim will be as stated, None where nothing tells it."""
        if not self.limits.any_broken(TOES, axle):
            return None
        told = [Told("toe", same)]
        if self.limits.has("toe_length", axle):
            told.append(Told("toe_length", tangent(self.limits.length("toe_length", axle))))
        if aim is not None:
            told.append(Told("toe_left", lambda value: 2 * (value - aim)))
            told.append(Told("toe_right", lambda value: 2 * (value + aim)))
        place = self.unknown["toe", axle]
        return self._single(SET_TOE, axle, place, self.solved.unknowns[place], told)

    def wedges(self, axle: int) -> Row | None:
        """Wedge change of the left and the right side, 0 being as it is."""
        if not self.limits.any_broken(WEDGES, axle):
            return None
        places = [
            [
                self._wedge(axle, side, adjuster)
                for adjuster in self._makes(MATCH_WEDGES, axle, side)
            ]
            for side in SIDES
        ]
        return Row(places, [Link(*self.limits.of(axle, 0.0, self._changes(axle, WEDGE_LINKS)))])

    def _single(
        self, action: str, axle: int, place: int, start: float, told: Sequence[Told]
    ) -> Row:
        limits, nominal = self.limits.of(axle, start, told)
        makes = self._makes(action, axle)
        return Row(
            [[Value(action, axle, None, (place,), start, nominal, limits, a) for a in makes]], []
        )

    def _makes(self, action: str, axle: int, side: str | None = None) -> Sequence[Adjuster | None]:
        """The adjusters of an axle that serve an action; None alone where there is none."""
        need = NEED[action]
        found = [
            adjuster
            for adjuster in self.adjusters[axle]
            if adjuster.kind == need and (side is None or adjuster.end in (None, side))
        ]
        return found or [None]

    def _aim(self, axle: int, place: int, start: float, adjuster: Adjuster | None) -> Value:
        limits, nominal = self.limits.of(axle, start, self._aim_told(axle, start, adjuster))
        return Value(AIM, axle, None, (place,), start, nominal, limits, adjuster)

    def _aim_told(self, axle: int, start: float, adjuster: Adjuster | None) -> Iterable[Told]:
        """What the aim of an axle makes; setback and skew of one that does not steer too."""
        yield Told("thrust", same, growth=self._growth(axle, start, adjuster))
        limits, pattern, numbers = self.limits, self.solved.pattern, self.solved.numbers
        behind = numbers[pattern.distance_of[axle]]

        def at(by_distance: ByLength) -> ToValue:
            if adjuster is None or adjuster.end is None:
                return by_distance(behind)
            return settled(
                start,
                lambda back: by_distance(behind + back),
                lambda value: pivoted(adjuster, start, value)[0],
            )

        if limits.has("thrust_difference", axle):
            yield Told("thrust_difference", at(lambda distance: tangent(2 * distance)))
        if limits.has("kingpin_difference", axle):
            spread = numbers[pattern.spread_of["kingpin_span", axle]]
            yield Told("kingpin_difference", at(lambda distance: _from_kingpin(distance, spread)))
        if limits.has("setback", axle):
            yield Told("setback", arc(limits.length("setback", axle)))
        yield SKEW
        if limits.has("toe_left", axle) or limits.has("toe_right", axle):
            toe = self.solved.unknowns[self.unknown["toe", axle]]
            yield Told("toe_left", lambda value: value - toe / 2)
            yield Told("toe_right", lambda value: toe / 2 - value, falls=True)

    def _growth(self, axle: int, start: float, adjuster: Adjuster | None) -> float:
        """Share by which an aim is less sure where its axle, turned to level, comes forward.

        What a sight line shows over a shorter distance tells that much less of the aim.
        """
        if adjuster is None or adjuster.end is None:
            return 0.0
        behind: float = self.solved.numbers[self.solved.pattern.distance_of[axle]]
        return max(-pivoted(adjuster, start, 0.0)[0] / behind, 0.0) if behind > 0 else 0.0

    def _aim_link(self, rear: int, aims: Sequence[Value]) -> Link:
        start = 0.0
        growth = max(self._growth(aim.axle, aim.start, aim.adjuster) for aim in aims)
        told = [Told("scrub", same, growth=growth)]
        for name in AIM_LINKS:
            if self.limits.has(name, rear):
                start = self._difference(rear, name)
                break
        else:
            return UNLINKED
        if self.limits.has("span_difference", rear):
            spread = self.limits.length("span_difference", rear)
            told.append(Told("span_difference", arc(spread), SPAN_MARGIN))
        return Link(*self.limits.of(rear, start, told))

    def _difference(self, rear: int, name: str) -> float:
        """Aim of the rear axle of a judged pair less that of its front one."""
        number = self.limits.by_place[name, rear][0]
        quantity = self.solved.pattern.quantities[self.limits.findings[number].quantity]
        front, back = (self.solved.unknowns[unknown] for unknown in quantity.unknowns)
        return math.atan(back) - math.atan(front)

    def _changes(self, axle: int, names: Iterable[str]) -> Iterable[Told]:
        """Quantities that change as much as a wedge, or as two wedges differ, does."""
        for name in names:
            if self.limits.has(name, axle):
                yield Told(name, less(self.limits.now(self.limits.by_place[name, axle][0])))

    def _wedge(self, axle: int, side: str, adjuster: Adjuster | None) -> Value:
        names = OF_SIDE[side]
        unknowns = tuple(self.unknown[n, axle] for n in names if (n, axle) in self.unknown)
        limits, nominal = self.limits.of(axle, 0.0, self._changes(axle, names))
        return Value(MATCH_WEDGES, axle, side, unknowns, 0.0, nominal, limits, adjuster)


def _from_kingpin(behind: float, over: float) -> ToValue:
    """Aim of a centred axle whose kingpin spans, over a spread, differ by a length.

    With R and L the two spans, R^2 - L^2 = 2 spread D sin(aim) and R^2 + L^2 =
    2 (D^2 + spread^2 / 4), so R + L and with it the aim follow from R - L alone.
    """
    squares = 4 * (behind * behind + over * over / 4)

    def aim(difference: float) -> float:
        total = math.sqrt(max(squares - difference * difference, 0.0))
        return math.asin(min(max(difference * total / (2 * over * behind), -1.0), 1.0))

    return aim
