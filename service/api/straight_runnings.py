"""`/v1/straight-runnings`: how a vehicle with its axles as they stand runs straight."""

from typing import Annotated

from litestar import post
from litestar.params import Body

from service.contract.answer_straight_running import running_answer
from service.contract.intake_straight_running import running_intake_of
from service.contract.straight_runnings import StraightRunningAnswer, StraightRunningRequest


@post(
    "/v1/straight-runnings",
    summary="Find how a vehicle runs straight",
    status_code=200,
    sync_to_thread=False,
)
def find_straight_running(
    data: Annotated[StraightRunningRequest, Body()],
) -> StraightRunningAnswer:
    """Aims of the axles in; crab angle, steer angle, hold, and slip and drag of every axle out.

    Side force and yaw moment are balanced, on a level road or one that falls to a side, with any
    number of steered axles, or with a kingpin or drawbar eye instead. No figure of tyre life or
    fuel is claimed. Nothing is stored, so a repeated request needs no idempotency key.
    """
    return running_answer(data, running_intake_of(data))
