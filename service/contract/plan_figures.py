"""The figures and texts of a plan's moves in the units of an answer."""

from math import inf

from service.contract.answer_estimates import NO_FRACTION, RADIAN, TENS, Scale
from service.geometry.planning.adjusters import TIE_ROD, WEDGE
from service.geometry.planning.plan import Move, Plan
from service.geometry.planning.words import ANGLED, change_words, moved_words, size_words
from service.geometry.quantities import Quantity
from service.geometry.wording import angle_words


def figures_of(move: Move, factor: float) -> tuple[float, float, float, float]:
    """Amount, its lower and upper end and the exact amount, as answered.

    `factor` as `factor_of` has it. An end is infinite where the band is open.
    """
    if move.value.action in ANGLED:
        start, (low, high) = move.value.start, move.band
        low, high = low - start, high - start
        size, exact = move.after - start, move.exact - start
    else:
        size, exact, low, high = move.amount, move.exact_amount, move.least, move.most
    if size <= 0:
        size, low, high = -size, -high, -low
    if -inf < low < 0.0:
        low = 0.0
    # Written out, without calls of `clean`: a print asks for them move by move.
    return (
        (size * factor * TENS + NO_FRACTION - NO_FRACTION) / TENS,
        (low * factor * TENS + NO_FRACTION - NO_FRACTION) / TENS,
        (high * factor * TENS + NO_FRACTION - NO_FRACTION) / TENS,
        (abs(exact) * factor * TENS + NO_FRACTION - NO_FRACTION) / TENS,
    )


def turns_of(move: Move) -> float | None:
    """Turns of the thread that make the amount, None where that is not known or of no use."""
    amount, adjuster = move.amount, move.value.adjuster
    if adjuster is None or adjuster.pitch is None:
        return None
    if adjuster.kind == TIE_ROD:
        return None if adjuster.toe_per_turn() is None else abs(amount)
    per_turn = adjuster.length_per_turn()
    return None if per_turn is None or adjuster.kind == WEDGE else abs(amount) / per_turn


def factor_of(move: Move, scale: Scale) -> float:
    """From metres or radians to the unit that a move's amount is answered in."""
    return RADIAN if move.value.action in ANGLED else scale.per_metre


def texts_of(move: Move, scale: Scale) -> tuple[str, str]:
    """The texts of the amount and of the exact one."""
    if move.value.action in ANGLED:
        return change_words(move), angle_words(move.exact - move.value.start)
    return (
        moved_words(move, scale.unit, scale.denominator),
        size_words(move.exact_amount, scale.unit, scale.denominator),
    )


def beyond_of(worked: Plan, place: int) -> tuple[Quantity, float]:
    """What a finding judges, and how far beyond its limit that stays (metres, radians)."""
    assert worked.predicted is not None, "a plan was worked out"
    assert worked.findings is not None, "a plan was worked out"
    finding = worked.findings[place]
    value = worked.predicted.values[finding.quantity]
    low, high = finding.target.lower, finding.target.upper
    below = 0.0 if low is None else low - value
    above = 0.0 if high is None else value - high
    return worked.predicted.pattern.quantities[finding.quantity], max(below, above, 0.0)
