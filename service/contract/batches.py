"""`POST /v1/solutions/batch`: many vehicles at once."""

from typing import Annotated

from msgspec import Meta

from service.contract.base import ClosedStruct, OpenStruct
from service.contract.problems import Problem
from service.contract.solution import Solution, SolutionRequest

MOST_VEHICLES = 5000


class SolutionBatchRequest(ClosedStruct):
    """Solution requests of up to 5,000 vehicles; each is answered for itself."""

    items: Annotated[list[SolutionRequest], Meta(min_length=1, max_length=MOST_VEHICLES)]


class SolutionBatchItem(OpenStruct):
    """The answer to one vehicle: a solution, or the problem that it would have got by itself."""

    index: int
    """Place of the vehicle in the request, from 0; empty lines of a stream do not count."""
    solution: Solution | None
    problem: Problem | None


class SolutionBatch(OpenStruct):
    """Answers in the order of the request."""

    items: list[SolutionBatchItem]
