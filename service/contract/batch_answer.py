"""Answers many vehicles: those that are read alike are solved together, each is answered alone.

The work is done in steps, so that others can have their turn between any two of them: a step is one
vehicle read, the vehicles of one pattern solved and judged, or one answer written.
"""

from collections.abc import Iterator, Sequence

import msgspec

from service.contract.answer import work
from service.contract.answer_print import printed
from service.contract.answer_stack import Done, work_together
from service.contract.batch_reader import Text
from service.contract.batches import SolutionBatchItem
from service.contract.problems import ProblemError
from service.contract.taken import Taken, taken
from service.geometry.pattern import Pattern

_encode = msgspec.json.Encoder().encode

AFTER = b',"problem":null}'
"""What stands in an item after its solution."""


def batch_items(texts: Sequence[Text], first: int, instance: str) -> Iterator[bytes | None]:
    """One encoded item for each text, in order, and None after every other step of the work.

    `first` is the index of the first item; `instance` names the HTTP request.
    """
    vehicles: list[Taken | ProblemError] = []
    for text in texts:
        vehicles.append(_taken(text))
        yield None
    alike: dict[Pattern, dict[int, Taken]] = {}
    for place, vehicle in enumerate(vehicles):
        if isinstance(vehicle, Taken):
            alike.setdefault(vehicle.pattern, {})[place] = vehicle
    all_done: dict[int, Done | None] = {}
    for pattern, members in alike.items():
        done = work_together(pattern, list(members.values()))
        all_done.update(zip(members, done, strict=True))
        yield None
    for place, vehicle in enumerate(vehicles):
        yield _item(first + place, vehicle, all_done.get(place), instance)


def _taken(text: Text) -> Taken | ProblemError:
    """What a text says, or what is wrong with it."""
    if isinstance(text, ProblemError):
        return text
    try:
        return taken(text)
    except ProblemError as problem:
        return problem


def problem_item(index: int, problem: ProblemError, instance: str) -> bytes:
    """The item of a vehicle that was refused."""
    return _encode(SolutionBatchItem(index=index, solution=None, problem=problem.problem(instance)))


def _item(index: int, vehicle: Taken | ProblemError, done: Done | None, instance: str) -> bytes:
    if isinstance(vehicle, ProblemError):
        return problem_item(index, vehicle, instance)
    before = b'{"index":%d,"solution":' % index
    try:
        if done is None:
            return before + printed(vehicle.request, work(vehicle.intake)) + AFTER
        group, at = done
        return group.printed(at, before, AFTER)
    except ProblemError as problem:
        return problem_item(index, problem, instance)
