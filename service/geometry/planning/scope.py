"""Which values a plan may move and which findings bound them: one row of values for each matter.

Offsets, aims, beams and toes are independent matters; aims of axles behind each other and the two
wedges of an axle hang together through findings on their difference. Rows are made only where
something is broken, and in the order in which one bears on the next: an axle that turns about one
end shifts its centre, and toe of a wheel hangs on the aim.
"""

import math
from collections.abc import Callable, Mapping, Sequence

from service.geometry.planning.adjusters import LATERAL, LONGITUDINAL, TIE_ROD, WEDGE, Adjuster
from service.geometry.planning.judged import AIMS_APART, MAKES, SIDES, WEDGES_APART
from service.geometry.planning.limits import (
    ITSELF,
    SPAN_MARGIN,
    ByLength,
    Limits,
    Told,
    ToValue,
    arc,
    less,
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

WayOf = Callable[[str, int], Told | None]
"""How a quantity, judged by a finding at a place, hangs on a value."""


class Scope:
    """Makes the rows of one vehicle."""

    def __init__(
        self, solved: Solved, limits: Limits, adjusters: Mapping[int, Sequence[Adjuster]]
    ) -> None:
        self.solved = solved
        self.limits = limits
        self.adjusters = adjusters
        self.unknown = solved.pattern.unknown_of

    def aims(self) -> Row:
        """Aims of the axles that do not steer, front to rear."""
        places: list[list[Value]] = []
        links: list[Link] = []
        ahead = 0.0
        for axle, place in self.limits.judged.aims:
            start = math.atan(self.solved.unknowns[place])
            if places:
                links.append(self._aim_link(axle, start - ahead))
            makes = self._makes(AIM, axle)
            places.append([self._aim(axle, place, start, adjuster) for adjuster in makes])
            ahead = start
        return Row(places, links)

    def aim_of(self, axle: int) -> float | None:
        """Where the wheels of an axle aim, None where nothing tells it."""
        place = self.unknown.get(("slope", axle))
        return None if place is None else math.atan(self.solved.unknowns[place])

    def square(self, axle: int) -> Row:
        """How the beam of a steered axle stands."""

        def way_of(name: str, number: int) -> Told:
            return ITSELF if name == "skew" else Told(arc(self.limits.length(number)))

        place = self.unknown["beam", axle]
        return self._single(SQUARE, axle, place, math.atan(self.solved.unknowns[place]), way_of)

    def centre(self, axle: int, shift: float) -> Row:
        """Offset of an axle whose centre will shift right by a length as it is turned later."""

        def way_of(name: str, _: int) -> Told:
            if name == "offset":
                return Told(less(shift))
            return Told(lambda value: value / 2 - shift)

        place = self.unknown["offset", axle]
        return self._single(CENTRE, axle, place, self.solved.unknowns[place], way_of)

    def toe(self, axle: int, aim: float | None) -> Row:
        """Total toe of an axle whose aim will be as stated, None where nothing tells it."""

        def way_of(name: str, number: int) -> Told | None:
            if name == "toe":
                return ITSELF
            if name == "toe_length":
                return Told(tangent(self.limits.length(number)))
            if aim is None:
                return None
            side = aim if name == "toe_left" else -aim
            return Told(lambda value: 2 * (value - side))

        place = self.unknown["toe", axle]
        return self._single(SET_TOE, axle, place, self.solved.unknowns[place], way_of)

    def wedges(self, axle: int) -> Row:
        """Wedge change of the left and the right side, 0 being as it is."""
        places = [
            [
                self._wedge(axle, side, adjuster)
                for adjuster in self._makes(MATCH_WEDGES, axle, side)
            ]
            for side in SIDES
        ]
        return Row(places, [Link(*self.limits.of(WEDGES_APART, axle, 0.0, self._change))])

    def _single(self, action: str, axle: int, place: int, start: float, way_of: WayOf) -> Row:
        limits, nominal = self.limits.of(action, axle, start, way_of)
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
        def way_of(name: str, number: int) -> Told:
            if name == "thrust":
                return ITSELF
            return self._way_of_aim(name, number, axle, start, adjuster)

        limits, nominal = self.limits.of(AIM, axle, start, way_of)
        return Value(AIM, axle, None, (place,), start, nominal, limits, adjuster)

    def _way_of_aim(
        self, name: str, number: int, axle: int, start: float, adjuster: Adjuster | None
    ) -> Told:
        """What an aim makes besides; setback and skew of an axle that does not steer too."""
        if name == "skew":
            return ITSELF
        if name == "setback":
            return Told(arc(self.limits.length(number)))
        if name in ("toe_left", "toe_right"):
            half = self.solved.unknowns[self.unknown["toe", axle]] / 2
            if name == "toe_left":
                return Told(lambda value: value - half)
            return Told(lambda value: half - value, falls=True)
        by_distance = self._by_distance(name, axle)
        behind = self.solved.numbers[self.solved.pattern.distance_of[axle]]
        if adjuster is None or adjuster.end is None:
            return Told(by_distance(behind))
        return Told(
            settled(
                start,
                lambda back: by_distance(behind + back),
                lambda value: pivoted(adjuster, start, value)[0],
            )
        )

    def _by_distance(self, name: str, axle: int) -> ByLength:
        """Way back of a quantity that also hangs on how far behind its axle stands."""
        if name == "thrust_difference":
            return lambda distance: tangent(2 * distance)
        spread = self.solved.numbers[self.solved.pattern.spread_of["kingpin_span", axle]]
        return lambda distance: _from_kingpin(distance, spread)

    def _aim_link(self, rear: int, start: float) -> Link:
        """What binds the aim of an axle to that of the one ahead; it differs by `start` now."""
        if not self.limits.judged.on[AIMS_APART, rear]:
            return UNLINKED

        def way_of(name: str, number: int) -> Told:
            if name == "scrub":
                return ITSELF
            return Told(arc(self.limits.length(number)), SPAN_MARGIN)

        return Link(*self.limits.of(AIMS_APART, rear, start, way_of))

    def _wedge(self, axle: int, side: str, adjuster: Adjuster | None) -> Value:
        places = [self.unknown.get((name, axle)) for name in MAKES[side]]
        unknowns = tuple([place for place in places if place is not None])
        limits, nominal = self.limits.of(side, axle, 0.0, self._change)
        return Value(MATCH_WEDGES, axle, side, unknowns, 0.0, nominal, limits, adjuster)

    def _change(self, _: str, number: int) -> Told:
        """A quantity that changes as much as a wedge, or as two wedges differ, does."""
        return Told(less(self.limits.now(number)))


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
