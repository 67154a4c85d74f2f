"""The texts of a plan by whole steps of the display scale, as they stand within JSON's quotes."""

from collections.abc import Callable
from functools import lru_cache
from math import floor

from service.contract.answer_estimates import RADIAN, Scale
from service.contract.answer_expect import signed, taper_words
from service.contract.cut import inner
from service.geometry.planning.plan import Move
from service.geometry.planning.words import (
    ANGLED,
    HUNDREDTH,
    amount_words,
    moved_words,
    size_words,
    step_of,
    steps_within,
)
from service.geometry.wording import HALF, MOST_SAID, angle_words, length_words, spoken


class Magnitudes(dict[int, bytes]):
    """Texts by whole steps, above nothing and below; made when asked for first.

    `step` in metres or radians, `per` as many of them to one, `unit` what marks are read in.
    """

    def __init__(self, words: Callable[[float], str], step: float, per: float, unit: float) -> None:
        super().__init__()
        self._words = words
        self._step = step
        self._per = per
        self._unit = unit
        self._step_of_marks = step * unit

    def __missing__(self, steps: int) -> bytes:
        if len(self) >= MOST_SAID:
            self.clear()
        text = self[steps] = inner(self._words(steps * self._step))
        return text

    def nearest(self, value: float) -> bytes:
        """The text of the size of a value (metres, radians)."""
        return self[int(abs(value) * self._per + HALF)]

    def within(self, mark: float, lower: float, upper: float) -> bytes:
        """The text of a mark, which with its band is in the unit of marks: `ExpectedMark.text`."""
        # Written out, without a call of `steps_within`, for the step that mostly serves.
        step = self._step_of_marks
        count = mark / step
        whole = floor(count)
        if whole + 1 - count < count - whole:
            whole += 1
        if lower <= whole * step <= upper:
            return self[whole]
        steps = steps_within(mark, lower, upper, step)
        if steps is None:
            steps = int(abs(mark / self._unit) * self._per + HALF)
            return self[-steps if mark < 0 else steps]
        return self[steps]


_HUNDREDTHS = spoken("toe", "in", 1)[0]
_angles = Magnitudes(
    lambda radians: signed(angle_words(radians), radians), HUNDREDTH, _HUNDREDTHS, RADIAN
)
_tapers = Magnitudes(taper_words, HUNDREDTH, _HUNDREDTHS, RADIAN)


class PlanWords:
    """The texts of lengths and angles that moves and marks have in one scale."""

    def __init__(self, unit: str, denominator: int, per_metre: float) -> None:
        self.unit, self.denominator = unit, denominator
        self._step = step_of(unit, denominator)
        self._per_metre = spoken("offset", unit, denominator)[0]
        self.angles = _angles
        self.tapers = _tapers
        self.lengths = Magnitudes(
            lambda metres: signed(length_words(metres, unit, denominator), metres),
            self._step,
            self._per_metre,
            per_metre,
        )

    def size(self, metres: float) -> bytes:
        """As `size_words`."""
        text = self.lengths.nearest(metres)
        if text is self.lengths[0]:
            return inner(size_words(metres, self.unit, self.denominator))
        return text

    def amount(self, move: Move) -> tuple[bytes, bytes, bytes]:
        """The texts of the amount and of the exact one, and what `amount_words` says."""
        value, adjuster = move.value, move.value.adjuster
        if value.action in ANGLED:
            start, (low, high) = value.start, move.band
            change = move.after - start
            steps = steps_within(change, low - start, high - start, HUNDREDTH)
            told = self.angles.nearest(change) if steps is None else self.angles[abs(steps)]
            return told, self.angles.nearest(move.exact - start), told
        lengths = self.lengths
        steps = int(abs(move.exact_amount) * self._per_metre + HALF)
        exact = lengths[steps] if steps else self.size(move.exact_amount)
        if adjuster is None or (adjuster.increment is None and adjuster.pitch is None):
            fit = steps_within(move.amount, move.least, move.most, self._step)
            told = lengths[abs(fit)] if fit else self._moved(move)
            return told, exact, told
        return self._moved(move), exact, inner(amount_words(move, self.unit, self.denominator))

    def _moved(self, move: Move) -> bytes:
        return inner(moved_words(move, self.unit, self.denominator))


@lru_cache(maxsize=256)
def plan_words(scale: Scale) -> PlanWords:
    """The texts for a scale, kept."""
    return PlanWords(scale.unit, scale.denominator, scale.per_metre)
