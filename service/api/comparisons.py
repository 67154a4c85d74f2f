"""`/v1/comparisons`: two rounds of readings of one vehicle; nothing is stored."""

from typing import Annotated

from litestar import post
from litestar.params import Body

from service.contract.answer_comparison import compared
from service.contract.comparisons import Comparison, ComparisonRequest


@post(
    "/v1/comparisons",
    summary="Compare two rounds of readings",
    status_code=200,
    sync_to_thread=False,
)
def compare_rounds(data: Annotated[ComparisonRequest, Body()]) -> Comparison:
    """Two solution requests of one vehicle in; the change of every quantity out.

    Says whether each change is more than the readings' uncertainty, which findings were cured and
    which appeared. Nothing is stored, so a repeated request needs no idempotency key.
    """
    return compared(data)
