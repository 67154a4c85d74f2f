"""Works out vehicles that are read alike together, so that each costs less than alone."""

from collections.abc import Sequence
from typing import NamedTuple

from service.contract.answer import Worked
from service.contract.answer_print import print_of
from service.contract.intake import Intake
from service.contract.print_geometry import Figures
from service.contract.solution import SolutionRequest
from service.geometry.findings import judgements_of
from service.geometry.judging import judge_stack
from service.geometry.pattern import Pattern
from service.geometry.solve import Solved
from service.geometry.stack import Stack, solve_stack

Asked = tuple[SolutionRequest, Intake, list[float]]
"""A request, what it was read to, and its numbers as its pattern has them."""

Alike = tuple[str | None, str, int, bool]
"""What vehicles of a pattern are judged and written by: target set, unit, fraction, with texts."""


class Done(NamedTuple):
    """A vehicle that was worked out with others; `figures` where they are of use."""

    worked: Worked
    figures: Figures | None


def work_together(pattern: Pattern, asked: Sequence[Asked]) -> list[Done | None]:
    """Solve and judge vehicles of a pattern, in order; None for one that is to be done alone."""
    done: list[Done | None] = [None] * len(asked)
    stack = solve_stack(pattern, [numbers for _, _, numbers in asked])
    if stack is not None:
        for places in _alike(asked, stack.solved):
            _judge(pattern, asked, stack, places, done)
    return done


def _alike(asked: Sequence[Asked], solved: Sequence[Solved | None]) -> list[list[int]]:
    """Places of vehicles that are judged and written alike; others stand by themselves."""
    found: dict[Alike | int, list[int]] = {}
    for place, (request, intake, _) in enumerate(asked):
        if solved[place] is not None:
            key: Alike | int = place
            if intake.built_in:
                key = (intake.targets.id, request.length_unit, request.fraction, request.text)
            found.setdefault(key, []).append(place)
    return list(found.values())


def _judge(
    pattern: Pattern,
    asked: Sequence[Asked],
    stack: Stack,
    places: list[int],
    done: list[Done | None],
) -> None:
    """Judge vehicles that are judged alike, and put them where they stand in `done`."""
    _, first, _ = asked[places[0]]
    todo = judgements_of(pattern, first.targets, first.built_in)
    values, uncertainties = stack.values[places], stack.uncertainties[places]
    solved = [one for place in places if (one := stack.solved[place]) is not None]
    found = judge_stack(solved, values, uncertainties, todo, first.targets.decision_rule)
    figures: Sequence[Figures | None] = [None] * len(places)
    for at, place in enumerate(places):
        request, intake, _ = asked[place]
        worked = Worked(intake, solved[at], todo, found[at])
        if at == 0 and (ready := print_of(request, worked, len(places))) is not None:
            figures = ready.geometry.stacked_figures(values, uncertainties)
        done[place] = Done(worked, figures[at])
