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
from service.contract.members import member_counter
from service.contract.problems import ProblemError
from service.contract.solution import SolutionRequest
from service.geometry.pattern import Pattern

_reader = reader_of(SolutionRequest)
_around = member_counter(SolutionRequest, frozenset({"vehicle", "readings"}))
"""Members of a request but for those that its vehicle and its readings hold."""

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
            self.request, self.intake = _taken(text)
        except ProblemError as problem:
            self.problem = problem
            return
        self.pattern, self.numbers = self.intake.numbered


def _taken(text: bytes) -> tuple[SolutionRequest, Intake]:
    """A request, and what it is read to; raises ProblemError that names all its faults.

    Of a vehicle that is known the intake tells what was read of it, so that members need not be
    counted one by one (see `duplicates`).
    """
    request: SolutionRequest = _reader.decoded(text)
    try:
        intake = intake_of(request)
    except ProblemError:
        _reader.refuse_duplicates(text, request)  # which comes first: what is meant is not known
        raise
    known = intake.members
    if (
        known is None
        or _around is None
        or known + _around(request) != text.count(b":")
        or b"\\" in text
    ):
        _reader.refuse_duplicates(text, request)
    return request, intake


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
