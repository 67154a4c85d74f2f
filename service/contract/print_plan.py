"""Prints the steps of a plan: the JSON that `answer_plan` would give, by what is kept of each kind.

What comes rarely is written as structs. Both ways give the same bytes.
"""

from collections.abc import Iterable, Sequence
from math import isfinite
from operator import attrgetter

import msgspec

from service.contract.answer_estimates import RADIAN, Scale, clean
from service.contract.answer_plan import (
    asked_step,
    ids_of,
    inspections,
    move_step,
    numbered,
    remainder,
)
from service.contract.cut import cut, gap, text_gap
from service.contract.intake import Intake
from service.contract.plan_figures import beyond_of
from service.contract.print_move import MovePrint
from service.contract.print_words import plan_words
from service.contract.replies import encoded
from service.contract.sheet import Sheet
from service.contract.solution import SolutionRequest
from service.geometry.findings import Judgement
from service.geometry.latest import Latest
from service.geometry.pattern import Pattern
from service.geometry.planning.next_reading import Advice
from service.geometry.planning.plan import Move, Plan
from service.geometry.planning.words import remainder_sentence

EARNED = 2
"""Moves of a kind that are written as structs before one is cut."""

MOST_KEPT = 1024
"""Kinds of moves, of readings asked for and of remainders that are kept, of some 4 kB at most."""

EMPTY = b"[]"

_encode = msgspec.json.Encoder().encode
_reading_of = attrgetter("reading")


class PlanPrint:
    """Prints the plans of vehicles of a pattern that are judged by the same rows."""

    def __init__(self, pattern: Pattern, todo: Sequence[Judgement], scale: Scale) -> None:
        self._pattern = pattern
        self._scale = scale
        self._ids = ids_of(pattern, todo)
        # What is kept is kept by this, so that no memory holds on to the print and its pattern.
        self._own = object()
        self._readings = len(pattern.shape.readings)

    def printed(self, request: SolutionRequest, intake: Intake, plan: Plan) -> tuple[bytes, bytes]:
        """The JSON of all steps, and of what remains outside."""
        steps = _inspections(request)
        if plan.advice is not None:
            steps.append(self._asked(plan.advice, len(steps) + 1))
        if plan.moves:
            # Each that was sent gives a reading at least: as many are one of each, in their order.
            sent = None if len(request.readings) == self._readings else tuple(intake.places)
            for number, move in enumerate(plan.moves, len(steps) + 1):
                steps.append(self._move(move, number, intake, sent))
        if not plan.remaining:
            return array(steps), EMPTY
        return array(steps), array([self._remainder(plan, place) for place in plan.remaining])

    def _asked(self, advice: Advice, number: int) -> bytes:
        """The reading that is asked for."""
        key = (self._own, number, advice.candidate[:4], tuple(advice.findings))
        text = _asked.get(key)
        if text is None:
            step = asked_step(advice, self._pattern, self._ids, self._scale)
            step.step = number
            text = encoded(step)
            _asked.keep(key, text)
        return text

    def _move(self, move: Move, number: int, intake: Intake, sent: tuple[int, ...] | None) -> bytes:
        """A move; `sent`: places of the readings in the request, None if as in the pattern."""
        value = move.value
        adjuster = value.adjuster
        assert adjuster is not None, "a move turns an adjuster"
        # All that the fixed part of a step hangs on.
        key = (
            self._own,
            value.action,
            value.axle,
            value.side,
            adjuster.kind,
            adjuster.end,
            adjuster.at,
            adjuster.pitch is None,
            adjuster.arm is None,
            move.amount > 0,
            move.after > value.start,
            tuple(move.because),
            tuple(map(_reading_of, move.expect)),
            sent,
        )
        ready = _moves.get(key)
        if ready is None:
            met = _met.get(key, 0)
            if met < EARNED:
                _met.keep(key, met + 1)
                return self._written(move, number, intake)
            ready = MovePrint(move, intake, self._ids, self._scale)
            _moves.keep(key, ready)
        return ready.printed(move, number, intake) or self._written(move, number, intake)

    def _written(self, move: Move, number: int, intake: Intake) -> bytes:
        """A move by its struct; raises `NotFiniteError` for a number that is not finite."""
        step = move_step(move, intake, self._ids, self._scale)
        step.step = number
        return encoded(step)

    def _remainder(self, plan: Plan, place: int) -> bytes:
        quantity, beyond = beyond_of(plan, place)
        if not beyond or not isfinite(beyond):
            return encoded(remainder(plan, place, self._ids, self._scale))
        scale = self._scale
        key = (self._own, place)
        sheet = _remainders.get(key)
        if sheet is None:
            form = remainder(plan, place, self._ids, scale)
            form.beyond = gap(0)
            if scale.text:
                form.text = remainder_sentence(quantity, text_gap(1))
            sheet = cut(form)
            _remainders.keep(key, sheet)
        factor, size = RADIAN, b""
        if quantity.length:
            factor = scale.per_metre
        if scale.text:
            words = plan_words(scale)
            size = words.size(beyond) if quantity.length else words.angles.nearest(beyond)
        return sheet.filled((_encode(clean(beyond * factor)), size))


_asked = Latest[tuple[object, ...], bytes](MOST_KEPT)
_met = Latest[tuple[object, ...], int](MOST_KEPT)
_moves = Latest[tuple[object, ...], MovePrint](MOST_KEPT)
_remainders = Latest[tuple[object, int], Sheet](MOST_KEPT)


def _inspections(request: SolutionRequest) -> list[bytes]:
    return list(map(encoded, numbered(inspections(request))))


def array(items: Iterable[bytes]) -> bytes:
    """A JSON array of pieces of JSON."""
    return b"[" + b",".join(items) + b"]"
