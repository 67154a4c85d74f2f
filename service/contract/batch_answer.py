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
from service.contract.bodies import reader_of
from service.contract.intake import Intake, intake_of
from service.contract.problems import ProblemError
from service.contract.solution import SolutionRequest
from service.geometry.pattern import Pattern

_read = reader_of(SolutionRequest).read
_encode = msgspec.json.Encoder().encode

AFTER = b',"problem":null}'
"""What stands in an item after its solution."""


class _Vehicle:
    """One vehicle on its way from its text to its answer."""

    __slots__ = ("done", "intake", "numbers", "pattern", "problem", "request")

    request: SolutionRequest
    intake: Intake
    pattern: Pattern
    numbers: list[float]

    def __init__(self, text: Text) -> None:
        self.problem: ProblemError | None = None
        self.done: Done | None = None
        if isinstance(text, ProblemError):
            self.problem = text
            return
        try:
            self.request = _read(text)
            self.intake = intake = intake_of(self.request)
        except ProblemError as problem:
            self.problem = problem
            return
        self.pattern, self.numbers = intake.numbered


def batch_items(texts: Sequence[Text], first: int, instance: str) -> Iterator[bytes | None]:
    """One encoded item for each text, in order, and None after every other step of the work.

    `first` is the index of the first item; `instance` names the HTTP request.
    """
    vehicles: list[_Vehicle] = []
    for text in texts:
        vehicles.append(_Vehicle(text))
        yield None
    alike: dict[Pattern, list[_Vehicle]] = {}
    for vehicle in vehicles:
        if vehicle.problem is None:
            alike.setdefault(vehicle.pattern, []).append(vehicle)
    for pattern, members in alike.items():
        asked = [(member.request, member.intake, member.numbers) for member in members]
        for member, done in zip(members, work_together(pattern, asked), strict=True):
            member.done = done
        yield None
    for index, vehicle in enumerate(vehicles, first):
        yield _item(index, vehicle, instance)


def problem_item(index: int, problem: ProblemError, instance: str) -> bytes:
    """The item of a vehicle that was refused."""
    return _encode(SolutionBatchItem(index=index, solution=None, problem=problem.problem(instance)))


def _item(index: int, vehicle: _Vehicle, instance: str) -> bytes:
    if vehicle.problem is not None:
        return problem_item(index, vehicle.problem, instance)
    done = vehicle.done
    before = b'{"index":%d,"solution":' % index
    try:
        if done is None:
            return before + printed(vehicle.request, work(vehicle.intake)) + AFTER
        group, at = done
        return group.printed(at, before, AFTER)
    except ProblemError as problem:
        return problem_item(index, problem, instance)
