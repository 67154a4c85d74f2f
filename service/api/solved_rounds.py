"""One or two solution requests of a body, solved, with every fault of both named."""

from typing import NamedTuple

import msgspec

from service.api.solutions import solution_of
from service.contract.problem_catalogue import CONTRACT_BROKEN
from service.contract.problems import FieldError, ProblemError, field_error, pointer_to
from service.contract.solution import Solution, SolutionRequest


class SolvedRound(NamedTuple):
    """A request and its solution, without display texts: sheets have words of their own."""

    request: SolutionRequest
    solution: Solution


def solved_rounds(before: SolutionRequest, after: SolutionRequest | None) -> list[SolvedRound]:
    """Solve both; raises ProblemError whose pointers are led by `before` or `after`."""
    errors: list[FieldError] = []
    rounds = [_solved(before, "before", errors)]
    if after is not None:
        rounds.append(_solved(after, "after", errors))
        if not errors and not one_vehicle(before, after):
            errors.append(_other_vehicle())
    if errors:
        raise ProblemError.of_broken_rules(errors)
    return [one for one in rounds if one is not None]


def _solved(request: SolutionRequest, name: str, errors: list[FieldError]) -> SolvedRound | None:
    quiet = msgspec.structs.replace(request, text=False, running=False)
    try:
        return SolvedRound(request, solution_of(quiet))
    except ProblemError as problem:
        for error in problem.errors:
            pointer = f"#/{name}{error.pointer.removeprefix('#')}"
            errors.append(msgspec.structs.replace(error, pointer=pointer))
        return None


def one_vehicle(before: SolutionRequest, after: SolutionRequest) -> bool:
    """Whether both describe one vehicle as far as a drawing goes: its kind, axles and roles."""
    one, other = before.vehicle, after.vehicle
    return one.unit == other.unit and [(a.number, a.role) for a in one.axles] == [
        (a.number, a.role) for a in other.axles
    ]


def _other_vehicle() -> FieldError:
    return field_error(
        CONTRACT_BROKEN,
        pointer_to("after", "vehicle"),
        "`before` and `after` do not describe one vehicle",
        "Send the same kind of vehicle with the same axle numbers and roles in both.",
    )
