"""What an adjuster's movement makes of a value, and which movement makes a value."""

import math

from service.geometry.planning.adjusters import LATERAL, LONGITUDINAL, TIE_ROD, WEDGE, Adjuster


def moved_by(adjuster: Adjuster, start: float, amount: float) -> float:
    """The value after its adjuster moved by a signed amount (see `Adjuster` for its unit)."""
    if adjuster.kind in (LATERAL, WEDGE):
        return start + amount
    if adjuster.kind == LONGITUDINAL:
        # With both ends moving opposite ways each needs half of what one end alone would.
        share = 1 if adjuster.end else 2
        sine = math.sin(start) + share * amount / adjuster.spread
        return math.asin(min(max(sine, -1.0), 1.0))
    return start + amount * (adjuster.toe_per_turn() or 1.0)


def amount_of(adjuster: Adjuster, start: float, after: float) -> float:
    """The signed amount at the adjuster that brings a value to `after`: inverse of `moved_by`.

    A tie rod whose pitch and arm are not known answers radians of toe instead of turns.
    """
    if adjuster.kind == LONGITUDINAL:
        share = 1 if adjuster.end else 2
        return (math.sin(after) - math.sin(start)) * adjuster.spread / share
    if adjuster.kind == TIE_ROD:
        return (after - start) / (adjuster.toe_per_turn() or 1.0)
    return after - start


def increment_of(adjuster: Adjuster) -> float | None:
    """The smallest step that counts: parts of a turn mean nothing where a turn's toe is unknown."""
    if adjuster.kind == TIE_ROD and adjuster.toe_per_turn() is None:
        return None
    return adjuster.increment


def weight_of(adjuster: Adjuster) -> float:
    """Movement at the adjusting points that a unit of the value costs."""
    return adjuster.spread if adjuster.kind == LONGITUDINAL else 1.0


def reach_of(adjuster: Adjuster, start: float) -> tuple[float, float]:
    """Values between which the adjuster can bring it."""
    if adjuster.travel is None:
        return -math.inf, math.inf
    return moved_by(adjuster, start, -adjuster.travel), moved_by(adjuster, start, adjuster.travel)


def pivoted(adjuster: Adjuster | None, start: float, after: float) -> tuple[float, float]:
    """How far rearward and how far right the centre of an axle goes as it turns.

    An axle turned by one end pivots about the other, so that its centre moves too, metres.
    """
    if adjuster is None or adjuster.kind != LONGITUDINAL or adjuster.end is None:
        return 0.0, 0.0
    half = adjuster.spread / 2 if adjuster.end == "right" else -adjuster.spread / 2
    return half * (math.sin(after) - math.sin(start)), half * (math.cos(after) - math.cos(start))
