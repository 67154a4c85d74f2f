"""Answers many vehicles: those that are read alike are solved together, each is answered alone."""

import math
from collections.abc import Iterator, Sequence
from typing import Any

import msgspec

from service.contract.answer import judged, work, write
from service.contract.batches import SolutionBatchItem
from service.contract.finite import require_finite
from service.contract.intake import Intake, intake_of
from service.contract.problems import ProblemError
from service.contract.solution import Solution, SolutionRequest
from service.geometry.careful import SolveError
from service.geometry.pattern import PatternShape, pattern_of, split
from service.geometry.solve import Solved
from service.geometry.stack import solve_stack
from service.geometry.uncertainty import TAPE

FEWEST = 4
"""Below this many vehicles of one pattern the arrays cost more than they save."""

_encode = msgspec.json.Encoder().encode


def batch_items(
    requests: Sequence[SolutionRequest | ProblemError], first: int, instance: str
) -> Iterator[bytes]:
    """One encoded item for each request, in order; `first` is the index of the first one.

    A request that was refused already stands as its problem. `instance` names the HTTP request.
    """
    intakes = [_intake(request) for request in requests]
    solved = _solved(intakes)
    for place, request in enumerate(requests):
        index = first + place
        yield _item(index, request, intakes[place], solved.get(place), instance)


def _intake(request: SolutionRequest | ProblemError) -> Intake | ProblemError:
    if isinstance(request, ProblemError):
        return request
    try:
        return intake_of(request)
    except ProblemError as error:
        return error


def _solved(intakes: Sequence[Intake | ProblemError]) -> dict[int, Solved]:
    """Geometry of the vehicles that share a pattern with enough others, by place."""
    alike: dict[PatternShape, list[tuple[int, list[float]]]] = {}
    for place, intake in enumerate(intakes):
        if isinstance(intake, Intake):
            shape, numbers = split(
                intake.vehicle,
                intake.readings,
                intake.centring_uncertainty,
                TAPE,
                intake.frame_angle,
            )
            alike.setdefault(shape, []).append((place, numbers))
    found: dict[int, Solved] = {}
    for shape, members in alike.items():
        if len(members) >= FEWEST:
            try:
                stack = solve_stack(pattern_of(shape), [numbers for _, numbers in members])
                for (place, _), solved in zip(members, stack, strict=True):
                    if isinstance(solved, Solved):
                        found[place] = solved
            except (SolveError, ArithmeticError):
                # One of them contradicts itself: let each be solved, or refused, by itself.
                continue
    return {place: solved for place, solved in found.items() if _finite(solved)}


def _finite(solved: Solved) -> bool:
    return math.isfinite(math.fsum(solved.values) + math.fsum(solved.uncertainties))


def _item(
    index: int, request: Any, intake: Intake | ProblemError, solved: Solved | None, instance: str
) -> bytes:
    if isinstance(intake, ProblemError):
        return _encode(_refused(index, intake, instance))
    try:
        worked = work(intake) if solved is None else judged(intake, solved)
        solution: Solution = write(request, worked)
        require_finite(solution)
    except ProblemError as error:
        return _encode(_refused(index, error, instance))
    return _encode(SolutionBatchItem(index=index, solution=solution, problem=None))


def _refused(index: int, error: ProblemError, instance: str) -> SolutionBatchItem:
    return SolutionBatchItem(index=index, solution=None, problem=error.problem(instance))
