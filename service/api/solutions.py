"""`/v1/solutions`: readings in, geometry and verdicts out; nothing is stored."""

from time import perf_counter
from typing import Annotated

from litestar import post
from litestar.params import Body

from service.api.metrics import SOLVING
from service.contract.answer import answer
from service.contract.answer_print import printed_answer
from service.contract.replies import Reply
from service.contract.solution import Solution, SolutionRequest


def solution_of(request: SolutionRequest) -> Solution:
    """Solve a request; raises ProblemError that names everything wrong with it."""
    begun = perf_counter()
    solution = answer(request)
    SOLVING.add(perf_counter() - begun)
    return solution


def solution_json(request: SolutionRequest) -> bytes:
    """The same as JSON, for whom that is enough."""
    begun = perf_counter()
    solution = printed_answer(request)
    SOLVING.add(perf_counter() - begun)
    return solution


@post("/v1/solutions", summary="Solve a vehicle's geometry", status_code=200, sync_to_thread=False)
def solve_vehicle(data: Annotated[SolutionRequest, Body()]) -> Reply[Solution]:
    """Readings of one vehicle in; geometry of every axle, verdicts and cautions out.

    Thrust and offset of all axles are solved together, so that an axle off centre is not taken
    for one that aims wrong. What no reading reaches is null. Nothing is stored, so a repeated
    request needs no idempotency key.
    """
    return Reply(solution_json(data))
