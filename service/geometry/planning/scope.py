"""Which values a plan may move and which findings bound them: one row of values for each matter.

Offsets, aims, beams and toes are independent matters; aims of axles behind each other and the two
wedges of an axle hang together through findings on their difference. Every finding is turned into
limits of the value it is about, within which it conforms.
"""

import math
from collections.abc import Callable, Mapping, Sequence
from typing import NamedTuple

from service.geometry.findings import Finding
from service.geometry.planning.acceptance import Acceptance, acceptance
from service.geometry.planning.adjusters import (
    LATERAL,
    LONGITUDINAL,
    TIE_ROD,
    WEDGE,
    Adjuster,
)
from service.geometry.solve import Solved

CENTRE, AIM, SQUARE, MATCH_WEDGES, SET_TOE = "centre", "aim", "square", "match_wedges", "set_toe"
"""Actions of a plan, in the order the trade works."""

NEED = {
    CENTRE: LATERAL,
    AIM: LONGITUDINAL,
    SQUARE: LONGITUDINAL,
    MATCH_WEDGES: WEDGE,
    SET_TOE: TIE_ROD,
}
"""The adjuster that an action turns."""

NONCONFORMING = "nonconforming"
SPAN_MARGIN = 1e-3
"""Share by which limits on a span difference are drawn in: its cosines move with the aims."""


class Limit(NamedTuple):
    """Limits that one finding sets: `finding` is its place among the findings."""

    finding: int
    lower: float
    upper: float
    broken: bool


class Value(NamedTuple):
    """One value a plan may move: an offset (metres), or an aim, beam, toe or wedge (radians)."""

    action: str
    axle: int
    side: str | None
    unknowns: tuple[int, ...]
    start: float
    nominal: float | None
    limits: list[Limit]
    adjuster: Adjuster | None


class Row(NamedTuple):
    """Values in order and, between each two, the limits of their difference."""

    values: list[Value]
    links: list[list[Limit]]


ToValue = Callable[[float], float]


def scope(
    solved: Solved,
    findings: Sequence[Finding],
    rule: str,
    adjusters: Mapping[int, Sequence[Adjuster]],
) -> list[Row]:
    """Rows of values that the findings bear on, in the order of the trade: centre, aim, front."""
    return _Scope(solved, findings, rule, adjusters).rows()


class _Scope:
    def __init__(
        self,
        solved: Solved,
        findings: Sequence[Finding],
        rule: str,
        adjusters: Mapping[int, Sequence[Adjuster]],
    ) -> None:
        self.solved = solved
        self.findings = findings
        self.rule = rule
        self.adjusters = adjusters
        self.unknown = solved.pattern.unknown_of
        self.by_place: dict[tuple[str, int], list[int]] = {}
        for number, finding in enumerate(findings):
            quantity = solved.pattern.quantities[finding.quantity]
            self.by_place.setdefault((quantity.name, quantity.axle), []).append(number)

    def rows(self) -> list[Row]:
        axles = self.solved.pattern.shape.axles
        found = []
        for number, *_ in axles:
            found += self._single(
                CENTRE, number, "offset", {"offset": _same, "offset_difference": _half}
            )
        found.append(self._aims([axle[0] for axle in axles if not axle[2]]))
        for number, _, steered, *_ in axles:
            if steered:
                found += self._single(SQUARE, number, "beam", self._beam_maps(number))
        for number, *_ in axles:
            found.append(self._wedges(number))
        for number, *_ in axles:
            found += self._single(SET_TOE, number, "toe", self._toe_maps(number))
        return [row for row in found if row.values]

    def _single(self, action: str, axle: int, unknown: str, maps: dict[str, ToValue]) -> list[Row]:
        place = self.unknown.get((unknown, axle))
        limits, nominal = self._limits(axle, maps)
        if place is None or not limits:
            return []
        start = self.solved.unknowns[place]
        start = math.atan(start) if unknown == "beam" else start
        adjuster = self._adjuster(action, axle)
        return [Row([Value(action, axle, None, (place,), start, nominal, limits, adjuster)], [])]

    def _adjuster(self, action: str, axle: int, side: str | None = None) -> Adjuster | None:
        for adjuster in self.adjusters[axle]:
            if adjuster.kind == NEED[action] and (side is None or adjuster.end in (None, side)):
                return adjuster
        return None

    def _limits(self, axle: int, maps: dict[str, ToValue]) -> tuple[list[Limit], float | None]:
        """Limits of an axle's own value, and the nominal of the first row that speaks of it."""
        limits, nominal = [], None
        for name, to_value in maps.items():
            for number in self.by_place.get((name, axle), ()):
                limits.append(self._limit(number, to_value))
                if nominal is None:
                    nominal = to_value(self.findings[number].target.nominal)
        return limits, nominal

    def _limit(self, number: int, to_value: ToValue, margin: float = 0.0) -> Limit:
        finding = self.findings[number]
        target = finding.target
        u = self.solved.uncertainties[finding.quantity]
        within = acceptance(target.lower, target.upper, u, self.rule)
        lower, upper = _drawn_in(within, margin)
        return Limit(
            number,
            lower if math.isinf(lower) else to_value(lower),
            upper if math.isinf(upper) else to_value(upper),
            finding.verdict == NONCONFORMING,
        )

    def _aims(self, axles: list[int]) -> Row:
        values: list[Value] = []
        links: list[list[Limit]] = []
        for number in axles:
            place = self.unknown.get(("slope", number))
            if place is None:
                continue
            limits, nominal = self._limits(number, self._aim_maps(number))
            if values:
                links.append(self._aim_links(number))
            start = math.atan(self.solved.unknowns[place])
            adjuster = self._adjuster(AIM, number)
            values.append(Value(AIM, number, None, (place,), start, nominal, limits, adjuster))
        return Row(values, links)

    def _aim_links(self, rear: int) -> list[Limit]:
        links = [self._limit(number, _same) for number in self.by_place.get(("scrub", rear), ())]
        for number in self.by_place.get(("span_difference", rear), ()):
            spread = self._derivative(self.findings[number].quantity)
            links.append(self._limit(number, _arc(spread), SPAN_MARGIN))
        return links

    def _derivative(self, quantity: int) -> float:
        """Length that a small angle of a quantity's last unknown makes: a spread or a distance."""
        told = self.solved.pattern.quantities[quantity]
        level = [0.0] * len(self.solved.unknowns)
        return float(told.tell(self.solved.numbers, level, math)[1][-1])

    def _aim_maps(self, axle: int) -> dict[str, ToValue]:
        maps: dict[str, ToValue] = {"thrust": _same}
        for name in ("thrust_difference", "kingpin_difference", "setback"):
            for number in self.by_place.get((name, axle), ()):
                over = self._derivative(self.findings[number].quantity)
                if name == "thrust_difference":
                    maps[name] = _tangent(over)
                elif name == "setback":
                    maps[name] = _arc(over)
                else:
                    maps[name] = self._from_kingpin(self.findings[number].quantity)
        maps["skew"] = _same
        return maps

    def _from_kingpin(self, quantity: int) -> ToValue:
        """Aim of a centred axle whose kingpin spans differ by a length.

        With R and L the two spans, R^2 - L^2 = 2 spread D sin(aim) and R^2 + L^2 =
        2 (D^2 + spread^2 / 4), so R + L and with it the aim follow from R - L alone.
        """
        axle = self.solved.pattern.quantities[quantity].axle
        pattern, numbers = self.solved.pattern, self.solved.numbers
        behind = numbers[pattern.distance_of[axle]]
        over = numbers[pattern.spread_of["kingpin_span", axle]]
        sum_of_squares = 4 * (behind * behind + over * over / 4)

        def aim(difference: float) -> float:
            total = math.sqrt(max(sum_of_squares - difference * difference, 0.0))
            return math.asin(_bounded(difference * total / (2 * over * behind)))

        return aim

    def _beam_maps(self, axle: int) -> dict[str, ToValue]:
        maps: dict[str, ToValue] = {"skew": _same}
        for number in self.by_place.get(("setback", axle), ()):
            maps["setback"] = _arc(self._derivative(self.findings[number].quantity))
        return maps

    def _toe_maps(self, axle: int) -> dict[str, ToValue]:
        maps: dict[str, ToValue] = {"toe": _same}
        for number in self.by_place.get(("toe_length", axle), ()):
            baseline = self._derivative(self.findings[number].quantity)
            maps["toe_length"] = _tangent(baseline)
        return maps

    def _wedges(self, axle: int) -> Row:
        """Wedge change of the left and the right side, 0 being as it is."""
        values, links = [], []
        told = {side: self._wedge_value(axle, side) for side in ("left", "right")}
        for name in ("wedge_difference", "cross_caster"):
            for number in self.by_place.get((name, axle), ()):
                now = self.solved.values[self.findings[number].quantity]
                links.append(self._limit(number, _less(now)))
        if links or told["left"].limits or told["right"].limits:
            values = [told["left"], told["right"]]
        return Row(values, [links] if values else [])

    def _wedge_value(self, axle: int, side: str) -> Value:
        limits, nominal = [], None
        unknowns = []
        for name in (f"caster_{side}", f"wedge_{side}"):
            if (name, axle) in self.unknown:
                unknowns.append(self.unknown[name, axle])
            for number in self.by_place.get((name, axle), ()):
                now = self.solved.values[self.findings[number].quantity]
                limits.append(self._limit(number, _less(now)))
                nominal = self.findings[number].target.nominal - now
        adjuster = self._adjuster(MATCH_WEDGES, axle, side)
        return Value(MATCH_WEDGES, axle, side, tuple(unknowns), 0.0, nominal, limits, adjuster)


def _drawn_in(within: Acceptance, margin: float) -> tuple[float, float]:
    """The interval less a share of itself at each end."""
    if not margin or math.isinf(within.lower) or math.isinf(within.upper):
        return within.lower, within.upper
    step = margin * (within.upper - within.lower)
    return within.lower + step, within.upper - step


def _same(value: float) -> float:
    return value


def _half(value: float) -> float:
    return value / 2


def _less(now: float) -> ToValue:
    return lambda value: value - now


def _bounded(sine: float) -> float:
    return min(max(sine, -1.0), 1.0)


def _arc(over: float) -> ToValue:
    """Angle whose sine over a length makes the value."""
    return lambda value: math.asin(_bounded(value / over))


def _tangent(over: float) -> ToValue:
    """Angle whose tangent over a length makes the value."""
    return lambda value: math.atan(value / over)
