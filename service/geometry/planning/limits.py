"""Findings as limits of the value that a plan moves: each quantity told back into it."""

import math
from collections.abc import Callable, Iterable, Sequence
from typing import NamedTuple

from service.geometry.findings import Finding
from service.geometry.planning.acceptance import Acceptance, acceptance
from service.geometry.planning.rows import Limit
from service.geometry.solve import Solved
from service.geometry.verdict import GUARDED

NONCONFORMING, CONFORMING = "nonconforming", "conforming"

INSIDE = 1e-2
"""Share of its standard uncertainty by which a finding is brought inside: an angle that has moved
alters its own uncertainty a little, and what was just inside must not tip out when read again."""

ROUNDING = 1e-9
"""The same where no uncertainty counts: a nanometre, a nanoradian."""

SPAN_MARGIN = 1e-3
"""Share by which limits on a span difference are drawn in: its cosines move with the aims."""

ToValue = Callable[[float], float]
"""From a quantity to the value that makes it."""
ByLength = Callable[[float], ToValue]
"""The same for a quantity that also hangs on a length, such as the axle's distance."""


class Told(NamedTuple):
    """A quantity that a value makes, and the way back; one that `falls` as the value rises.

    `margin`: share by which its limits are drawn in; `growth`: share by which its uncertainty
    grows on the way.
    """

    name: str
    to_value: ToValue
    margin: float = 0.0
    falls: bool = False
    growth: float = 0.0


class Limits:
    """Turns the findings of one vehicle into limits, each worked out when it is asked for."""

    def __init__(self, solved: Solved, findings: Sequence[Finding], rule: str) -> None:
        self.solved = solved
        self.findings = findings
        self.rule = rule
        self.by_place: dict[tuple[str, int], list[int]] = {}
        self.broken: dict[int, set[str]] = {}
        for number, finding in enumerate(findings):
            quantity = solved.pattern.quantities[finding.quantity]
            key = (quantity.name, quantity.axle)
            self.by_place.setdefault(key, []).append(number)
            if finding.verdict == NONCONFORMING:
                self.broken.setdefault(quantity.axle, set()).add(quantity.name)

    def any_broken(self, names: frozenset[str], axle: int) -> bool:
        """Whether a finding on one of these quantities of an axle does not conform."""
        broken = self.broken.get(axle)
        return broken is not None and not names.isdisjoint(broken)

    def of(self, axle: int, start: float, told: Iterable[Told]) -> tuple[list[Limit], float | None]:
        """Limits of a value that stands at `start`, and the nominal of the first row on it."""
        limits, nominal = [], None
        for way in told:
            for number in self.by_place.get((way.name, axle), ()):
                limits.append(self._limit(number, start, way))
                if nominal is None:
                    nominal = way.to_value(self.findings[number].target.nominal)
        return limits, nominal

    def now(self, number: int) -> float:
        """The quantity of a finding as it is."""
        value: float = self.solved.values[self.findings[number].quantity]
        return value

    def length(self, name: str, axle: int) -> float:
        """Length that a small angle of a quantity's last unknown makes: a spread, a baseline."""
        number = self.by_place[name, axle][0]
        told = self.solved.pattern.quantities[self.findings[number].quantity]
        level = [0.0] * len(self.solved.unknowns)
        return float(told.tell(self.solved.numbers, level, math)[1][-1])

    def has(self, name: str, axle: int) -> bool:
        """Whether any row judges this quantity of an axle."""
        return (name, axle) in self.by_place

    def _limit(self, number: int, start: float, way: Told) -> Limit:
        finding = self.findings[number]
        target = finding.target
        u = self.solved.uncertainties[finding.quantity] * (1 + way.growth)
        within = acceptance(target.lower, target.upper, u, self.rule)
        low, high = _drawn_in(within, u if self.rule == GUARDED else 0.0, way.margin)
        low = low if math.isinf(low) else way.to_value(low)
        high = high if math.isinf(high) else way.to_value(high)
        if way.falls:
            low, high = -high if math.isinf(high) else high, -low if math.isinf(low) else low
        excess = max(low - start, start - high, 0.0)
        is_out = finding.verdict != CONFORMING and excess > 0.0
        broken = is_out and finding.verdict == NONCONFORMING
        return Limit(number, low, high, broken, finding.verdict != CONFORMING, excess)


def _drawn_in(within: Acceptance, u: float, margin: float) -> tuple[float, float]:
    """The interval less a little at each end, and never more than a quarter of it."""
    width = within.upper - within.lower
    step = INSIDE * u + ROUNDING
    if math.isfinite(width):
        step = min(step + margin * width, width / 4)
    return within.lower + step, within.upper - step


def same(value: float) -> float:
    """A quantity that is the value itself."""
    return value


def less(by: float) -> ToValue:
    """A quantity that lies by so much above the value."""
    return lambda value: value - by


def arc(over: float) -> ToValue:
    """Angle whose sine over a length makes the quantity."""
    return lambda value: math.asin(min(max(value / over, -1.0), 1.0))


def tangent(over: float) -> ToValue:
    """Angle whose tangent over a length makes the quantity."""
    return lambda value: math.atan(value / over)


def settled(start: float, by_shift: ByLength, shift: ToValue) -> ToValue:
    """Way back of a quantity that also hangs on where the axle's centre goes as it turns.

    `shift` tells how far rearward that is at a value; it alters the quantity by thousandths, so
    that a few rounds settle it to the last digit.
    """

    def value_of(quantity: float) -> float:
        value = start
        for _ in range(5):
            value = by_shift(shift(value))(quantity)
        return value

    return value_of
