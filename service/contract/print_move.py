"""Prints the moves of a plan: one kind of move with gaps, and what a vehicle's fills them with."""

from functools import lru_cache
from math import inf, isfinite

import msgspec

from service.contract.answer_estimates import NO_FRACTION, RADIAN, TENS, Scale, clean
from service.contract.answer_expect import mark_unit, shown
from service.contract.answer_plan import move_step, spread_of
from service.contract.cut import cut, gap, inner, text_gap
from service.contract.estimates import EstimateUnit
from service.contract.intake import Intake
from service.contract.plan_figures import factor_of, figures_of, turns_of
from service.contract.print_words import Magnitudes, plan_words
from service.contract.solution import PlanStep
from service.geometry.planning.plan import Move
from service.geometry.planning.rows import AIM, SQUARE
from service.geometry.planning.words import beside_words, move_sentence
from service.geometry.readings import Reading, ToeScale, Wedge
from service.geometry.wording import length_words

_encode = msgspec.json.Encoder().encode

FIGURES = 5
"""Numbers of a step before those of its marks: its own, and the four of `figures_of`."""

WORDS = 4
"""Texts of a step before those of its marks: amount, exact amount, and the two of its sentence."""

Read = tuple[float | None, Magnitudes | None]
"""How marks are told: factor from SI, None where the reading itself says it; texts if any."""


class MovePrint:
    """Prints moves of one kind.

    Its gaps take the numbers of the step and of its marks, turns where they are known, the spread,
    then the texts.
    """

    __slots__ = ("_cut", "_factor", "_has_turns", "_is_turn", "_reads", "_scale", "_words")

    def __init__(self, move: Move, intake: Intake, ids: list[str], scale: Scale) -> None:
        self._scale = scale
        self._words = plan_words(scale)
        self._is_turn = move.value.action in (AIM, SQUARE)
        self._has_turns = turns_of(move) is not None
        self._factor = factor_of(move, scale)
        readings = intake.readings
        self._reads = [_read(readings[expected.reading], scale) for expected in move.expect]
        self._cut = cut(_with_gaps(move_step(move, intake, ids, scale), move, scale.text))

    def printed(self, move: Move, number: int, intake: Intake) -> bytes | None:
        """The JSON of a move as step `number`.

        None where a number is not finite, as an amount without end is.
        """
        scale, adjuster = self._scale, move.value.adjuster
        numbers: list[float | None] = [number, *figures_of(move, self._factor)]
        spread = beside = b""
        texts: list[bytes] = []
        if self._is_turn and adjuster is not None:
            spread, beside = _spread(adjuster.spread, scale)
        if scale.text:
            if self._has_turns:
                beside = inner(beside_words(move, scale.unit, scale.denominator))
            texts += self._words.amount(move)
            texts.append(beside)
        for expected, (factor, said) in zip(move.expect, self._reads, strict=True):
            for mark in expected.marks:
                _, value, least, most = mark
                lower = -inf if least is None else least
                upper = inf if most is None else most
                if factor is not None:
                    value *= factor
                    lower *= factor
                    upper *= factor
                else:
                    reading = intake.readings[expected.reading]
                    value = shown(value, reading, scale)
                    lower = lower if least is None else shown(lower, reading, scale)
                    upper = upper if most is None else shown(upper, reading, scale)
                # Written out, without calls of `clean`: marks are the most of a step.
                numbers += (
                    (value * TENS + NO_FRACTION - NO_FRACTION) / TENS,
                    None if least is None else (lower * TENS + NO_FRACTION - NO_FRACTION) / TENS,
                    None if most is None else (upper * TENS + NO_FRACTION - NO_FRACTION) / TENS,
                )
                if said is not None:
                    texts.append(said.within(value, lower, upper))
        if self._has_turns:
            numbers.append(clean(turns_of(move) or 0.0))
        if not isfinite(sum(filter(None, numbers))):
            return None
        pieces = _encode(numbers)[1:-1].split(b",")
        pieces.append(spread)
        pieces += texts
        return self._cut.filled(pieces)


def _with_gaps(step: PlanStep, move: Move, with_text: bool) -> PlanStep:
    """The step of a move with gaps in place of what is a vehicle's own."""
    amount, exact = step.amount, step.exact
    assert amount is not None, "a move has an amount"
    assert exact is not None, "a move has an exact amount"
    marks = [mark for expected in step.expect for mark in expected.marks]
    step.step = gap(0)
    amount.value, amount.lower, amount.upper, exact.value = gap(1), gap(2), gap(3), gap(4)
    for at, mark in enumerate(marks):
        first = FIGURES + 3 * at
        mark.value, mark.lower, mark.upper = gap(first), gap(first + 1), gap(first + 2)
    spread = FIGURES + 3 * len(marks)
    if step.turns is not None:
        step.turns = gap(spread)
        spread += 1
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
    if isinstance(reading, Wedge):
        said = words.tapers
    factor = RADIAN if is_angle else scale.per_metre
    return None if isinstance(reading, ToeScale) else factor, said if scale.text else None


@lru_cache(maxsize=256)
def _spread(metres: float, scale: Scale) -> tuple[bytes, bytes]:
    """The JSON of a spread, and its text as a step's sentence has it."""
    text = length_words(metres, scale.unit, scale.denominator) if scale.text else ""
    return _encode(spread_of(metres, scale)), inner(text)
