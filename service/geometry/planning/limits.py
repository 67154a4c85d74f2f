"""Findings as limits of the value that a plan moves: each quantity told back into it."""

import math
from collections.abc import Callable, Sequence
from functools import lru_cache
from typing import NamedTuple

from service.geometry.findings import Finding, made
from service.geometry.planning.acceptance import acceptance
from service.geometry.planning.judged import judged_of
from service.geometry.planning.rows import Limit
from service.geometry.solve import Solved
from service.geometry.verdict import GUARDED

NONCONFORMING, CONFORMING = "nonconforming", "conforming"

INSIDE = 4e-2
"""Share of its standard uncertainty by which a finding is brought inside: an angle that has moved
alters its own uncertainty a little, scales are not asked for what no eye sees of a step, and what
was just inside must not tip out when read again."""

ROUNDING = 1e-9
"""The same where no uncertainty counts: a nanometre, a nanoradian."""

SPAN_MARGIN = 1e-3
"""Share by which limits on a span difference are drawn in: its cosines move with the aims."""

ToValue = Callable[[float], float]
"""From a quantity to the value that makes it."""
ByLength = Callable[[float], ToValue]
"""The same for a quantity that also hangs on a length, such as the axle's distance."""


class Told(NamedTuple):
    """The way back from a quantity to the value that makes it; one that `falls` as that rises.

    `margin`: share by which its limits are drawn in.
    """

    to_value: ToValue
    margin: float = 0.0
    falls: bool = False


class Limits:
    """Turns the findings of one vehicle into limits, each worked out when it is asked for.

    `out`: places of the findings that do not conform. `broken`: for each action that mends one of
    them the axles where it does so, front to rear as findings come.
    """

    def __init__(
        self, solved: Solved, findings: Sequence[Finding], out: Sequence[int], rule: str
    ) -> None:
        self.solved = solved
        self.findings = findings
        self.rule = rule
        self.judged = judged_of(solved.pattern, findings)
        self.broken: dict[str, list[int]] = {}
        for number in out:
            for action, axle in self.judged.mending[number]:
                axles = self.broken.setdefault(action, [])
                if axle not in axles:
                    axles.append(axle)

    def of(
        self, key: str, axle: int, start: float, way_of: Callable[[str, int], Told | None]
    ) -> tuple[list[Limit], float | None]:
        """Limits of an axle's value (see `MAKES`) that stands at `start`, and its nominal.

        `way_of` tells by a quantity and the place of its finding how it hangs on the value, None
        if it doesn't.
        """
        limits: list[Limit] = []
        nominal = None
        for name, number in self.judged.on[key, axle]:
            way = way_of(name, number)
            if way is not None:
                limits.append(self._limit(number, start, way))
                if nominal is None:
                    nominal = way.to_value(self.findings[number].target.nominal)
        return limits, nominal

    def now(self, number: int) -> float:
        """The quantity of a finding as it is."""
        value: float = self.solved.values[self.findings[number].quantity]
        return value

    def length(self, number: int) -> float:
        """Length that a small angle of a finding's last unknown makes: a spread, a baseline."""
        told = self.solved.pattern.quantities[self.findings[number].quantity]
        level = [0.0] * len(self.solved.unknowns)
        return float(told.tell(self.solved.numbers, level, math)[1][-1])

    def _limit(self, number: int, start: float, way: Told) -> Limit:
        """What one finding asks of a value."""
        quantity, target, _, verdict = self.findings[number]
        to_value, margin, falls = way
        u = self.solved.uncertainties[quantity]
        low, high = _inside(target.lower, target.upper, u, self.rule, margin)
        low = low if low == -math.inf else to_value(low)
        high = high if high == math.inf else to_value(high)
        if falls:
            low, high = -high if math.isinf(high) else high, -low if math.isinf(low) else low
        excess = low - start if start < low else start - high if start > high else 0.0
        is_broken = verdict == NONCONFORMING and excess > 0.0
        is_open = verdict != CONFORMING
        # As `Limit(...)` makes it, in half the time.
        return made(Limit, (number, low, high, is_broken, is_open, excess))


@lru_cache(maxsize=16_384)
def _inside(
    lower: float | None, upper: float | None, u: float, rule: str, margin: float
) -> tuple[float, float]:
    """Where a finding conforms, less a little at each end, and never more than a quarter of it."""
    within = acceptance(lower, upper, u, rule)
    width = within.upper - within.lower
    step = INSIDE * u + ROUNDING if rule == GUARDED else ROUNDING
    if math.isfinite(width):
        step = min(step + margin * width, width / 4)
    return within.lower + step, within.upper - step


def same(value: float) -> float:
    """A quantity that is the value itself."""
    return value


ITSELF = Told(same)


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
