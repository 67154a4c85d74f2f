"""Works out vehicles that are read alike together, so that each costs less than alone.

What is told of all of them is written column by column; a vehicle's answer is then a row, put
between what its stencil has. What only some have, such as a plan, is worked out one by one.
"""

from collections.abc import Sequence

from service.contract.answer import Worked
from service.contract.answer_cautions import SOUND
from service.contract.answer_print import (
    SAFETY_ALONE,
    SolutionPrint,
    planned,
    print_of,
    printed,
)
from service.contract.print_plan import EMPTY
from service.contract.print_prediction import NULL
from service.contract.print_rows import Filler, Rows, Settled
from service.contract.solution import SolutionRequest
from service.contract.taken import Taken
from service.geometry.findings import judge, judgements_of
from service.geometry.judging import judge_stack
from service.geometry.pattern import Pattern
from service.geometry.plausibility import hard_to_believe
from service.geometry.stack import Stack, solve_stack


class Group:
    """Vehicles of a stack that are judged and written alike."""

    def __init__(self, asked: Sequence[Taken], stack: Stack, places: list[int]) -> None:
        self._asked = [asked[place] for place in places]
        self._stack = stack
        self._places = places
        one = self._asked[0]
        self._rule = one.targets.decision_rule
        self._todo = judgements_of(stack.pattern, one.targets, one.built_in)
        kept_as = one.targets.id if one.built_in else None
        has_run = stack.hold[places[0]]
        self._print = print_of(
            one.request, stack.pattern, self._todo, kept_as, has_run, len(places)
        )
        if self._print is not None:
            self._write(self._print)

    def _write(self, ready: SolutionPrint) -> None:
        """Judge all vehicles, and write what is told of each of them."""
        stack, places = self._stack, self._places
        values, uncertainties = stack.values[places], stack.uncertainties[places]
        self._judged = judge_stack(values, uncertainties, self._todo, self._rule)
        numbers = [one.numbers for one in self._asked]
        settled, told, words = ready.geometry.columns(
            values, uncertainties, numbers, self._judged.columns
        )
        if ready.running is not None:
            ratios = [one.request.steering_ratio for one in self._asked]
            own_told, own_words = ready.running.columns(stack.runs[places], ratios)
            told += own_told
            words += own_words
        plain: list[list[bytes]] = [[one] * len(places) for one in (EMPTY, NULL, EMPTY)]
        plain.append([ready.assumed(one.centring) for one in self._asked])
        plain += [[one] * len(places) for one in (EMPTY, SAFETY_ALONE)]
        self._rows = Rows(ready.stencil, told, words + plain)
        shared = Settled(settled)
        self._filler = Filler(ready.stencil, shared)
        self._predicted = Filler(ready.prediction.stencil, shared)
        self._doubted = hard_to_believe(stack.pattern, values, numbers)

    def printed(self, at: int, before: bytes = b"", after: bytes = b"") -> bytes:
        """The JSON of the solution of one of the vehicles, between what stands around it.

        Raises `NotFiniteError` rather than write null for NaN or infinity.
        """
        one = self._asked[at]
        request, ready = one.request, self._print
        if ready is None or at in self._rows.not_finite:
            return before + printed(request, self._worked(at, one)) + after
        row, usual = self._rows[at], self._is_usual(at, request)
        if not usual or (at in self._judged.failing and request.plan):
            row = self._own_row(ready, at, request, usual)
        return self._filler.filled(at, row, before, after)

    def _own_row(
        self, ready: SolutionPrint, at: int, request: SolutionRequest, usual: bool
    ) -> Sequence[bytes]:
        """The row of a vehicle with what only it has; unless `usual`, more than a plan."""
        row, worked = list(self._rows[at]), self._to_plan(at)
        plan, prediction = planned(request, worked), NULL
        if plan is not None and plan.moves:
            changed = ready.prediction.row(row, worked, plan)
            prediction = self._predicted.filled(at, changed)
        pieces = ready.of_plan(request, worked, plan, prediction)
        if not usual:
            pieces += ready.beside_plan(request, worked)
        for place, piece in zip(ready.places[: len(pieces)], pieces, strict=True):
            row[place] = piece
        return row

    def _is_usual(self, at: int, request: SolutionRequest) -> bool:
        """Whether there is nothing to doubt and to warn of but what is said to all."""
        return (
            at not in self._doubted
            and not self._stack.doubtful[self._places[at]]
            and request.conditions == SOUND
        )

    def _worked(self, at: int, one: Taken) -> Worked:
        solved = self._stack.solved(self._places[at])
        return Worked(one.intake, solved, self._todo, judge(solved, self._todo, self._rule))

    def _to_plan(self, at: int) -> Worked:
        """The same of a vehicle that is judged, but for its course, which is told already."""
        solved = self._stack.solved(self._places[at], runs=False)
        return Worked(self._asked[at].intake, solved, self._todo, self._judged.of(at))


Done = tuple[Group, int]
"""A vehicle that was worked out with others: its group, and where in it it stands."""


def work_together(pattern: Pattern, asked: Sequence[Taken]) -> list[Done | None]:
    """Solve and judge vehicles of a pattern, in order; None for one that is to be done alone."""
    done: list[Done | None] = [None] * len(asked)
    stack = solve_stack(pattern, [one.numbers for one in asked])
    if stack is not None:
        for places in _alike(asked, stack):
            group = Group(asked, stack, places)
            for at, place in enumerate(places):
                done[place] = group, at
    return done


def _alike(asked: Sequence[Taken], stack: Stack) -> list[list[int]]:
    """Places of vehicles that are judged and written alike; others stand by themselves."""
    found: dict[object, list[int]] = {}
    for place, one in enumerate(asked):
        if stack.sound[place]:
            key: object = place
            request = one.request
            if one.built_in:
                key = (
                    one.targets.id,
                    request.length_unit,
                    request.fraction,
                    request.text,
                    request.running and stack.hold[place],
                    request.steering_ratio is None,
                )
            found.setdefault(key, []).append(place)
    return list(found.values())
