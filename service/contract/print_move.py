"""Prints the moves of a plan: one kind of move with gaps, and what a vehicle's fills them with."""

from functools import lru_cache
from math import isfinite

import msgspec

from service.contract.answer_estimates import NO_FRACTION, RADIAN, TENS, Scale
from service.contract.answer_expect import mark_unit, shown
from service.contract.answer_plan import figures_of, move_step, spread_of
from service.contract.cut import Cut, gap, inner, text_gap
from service.contract.estimates import EstimateUnit
from service.contract.intake import Intake
from service.contract.print_words import Magnitudes, plan_words
from service.contract.solution import PlanStep
from service.geometry.planning.plan import Move
from service.geometry.planning.rows import AIM, SQUARE
from service.geometry.planning.words import beside_words, move_sentence
from service.geometry.readings import Reading, ToeScale
from service.geometry.wording import length_words

_encode = msgspec.json.Encoder().encode

FIGURES = 6
"""Numbers of a step before those of its marks: its own, and the five of `figures_of`."""

WORDS = 4
"""Texts of a step before those of its marks: amount, exact amount, and the two of its sentence."""


Read = tuple[float | None, Magnitudes]
"""How marks of a reading are told: factor from SI, None where it hangs on the reading; texts."""


class MovePrint:
    """Prints moves of one kind.

    Its gaps take the numbers of the step and of its marks, the spread, then the texts.
    """

    __slots__ = ("_cut", "_is_turn", "_reads", "_scale", "_words")

    def __init__(self, move: Move, intake: Intake, ids: list[str], scale: Scale) -> None:
        self._scale = scale
        self._words = plan_words(scale)
        self._is_turn = move.value.action in (AIM, SQUARE)
        readings = intake.readings
        self._reads = [_read(readings[expected.reading], scale) for expected in move.expect]
        self._cut = Cut(_with_gaps(move_step(move, intake, ids, scale), move, scale.text))

    def printed(self, move: Move, number: int, intake: Intake) -> bytes | None:
        """The JSON of a move as step `number`, None where a number of it is not finite."""
        scale = self._scale
        numbers: list[float | None] = [number, *figures_of(move, scale)]
        texts = list[bytes]()
        spread = beside = b""
        if self._is_turn and move.value.adjuster is not None:
            spread, beside = _spread(move.value.adjuster.spread, scale)
        if scale.text:
            if not self._is_turn:
                beside = inner(beside_words(move, scale.unit, scale.denominator))
            texts += (*self._words.amount(move), beside)
        self._tell_marks(move, intake, numbers, texts)
        if not isfinite(sum(filter(None, numbers))):
            return None
        return self._cut.filled([*_encode(numbers)[1:-1].split(b","), spread, *texts])

    def _tell_marks(
        self, move: Move, intake: Intake, numbers: list[float | None], texts: list[bytes]
    ) -> None:
        """Add the numbers and texts of what the readings must show."""
        with_text = self._scale.text
        for expected, (factor, said) in zip(move.expect, self._reads, strict=True):
            for mark in expected.marks:
                if factor is None:
                    reading = intake.readings[expected.reading]
                    value, lower, upper = shown(mark, reading, self._scale)
                else:
                    _, value, lower, upper = mark
                    value *= factor
                    lower = None if lower is None else lower * factor
                    upper = None if upper is None else upper * factor
                # Written out, without calls of `clean`: marks are the most of a step.
                numbers += (
                    (value * TENS + NO_FRACTION - NO_FRACTION) / TENS,
                    None if lower is None else (lower * TENS + NO_FRACTION - NO_FRACTION) / TENS,
                    None if upper is None else (upper * TENS + NO_FRACTION - NO_FRACTION) / TENS,
                )
                if with_text:
                    texts.append(said.mark(value, lower, upper))


def _with_gaps(step: PlanStep, move: Move, with_text: bool) -> PlanStep:
    """The step of a move with gaps in place of what is a vehicle's own."""
    amount, exact = step.amount, step.exact
    assert amount is not None, "a move has an amount"
    assert exact is not None, "a move has an exact amount"
    marks = [mark for expected in step.expect for mark in expected.marks]
    step.step = gap(0)
    amount.value, amount.lower, amount.upper = gap(1), gap(2), gap(3)
    exact.value, step.turns = gap(4), gap(5)
    for at, mark in enumerate(marks):
        first = FIGURES + 3 * at
        mark.value, mark.lower, mark.upper = gap(first), gap(first + 1), gap(first + 2)
    spread = FIGURES + 3 * len(marks)
    if step.spread is not None:
        step.spread = gap(spread)
    if with_text:
        texts = [text_gap(spread + 1 + at) for at in range(WORDS + len(marks))]
        amount.text, exact.text = texts[:2]
        step.text = move_sentence(move, *texts[2:WORDS])
        for mark, text in zip(marks, texts[WORDS:], strict=True):
            mark.text = text
    return step


def _read(reading: Reading, scale: Scale) -> Read:
    words, is_angle = plan_words(scale), mark_unit(reading, scale) is EstimateUnit.DEGREE
    said = words.angles if is_angle else words.lengths
    if isinstance(reading, ToeScale):
        return None, said
    return RADIAN if is_angle else scale.per_metre, said


@lru_cache(maxsize=256)
def _spread(metres: float, scale: Scale) -> tuple[bytes, bytes]:
    """The JSON of a spread, and its text as a step's sentence has it."""
    text = length_words(metres, scale.unit, scale.denominator) if scale.text else ""
    return _encode(spread_of(metres, scale)), inner(text)
