"""Bare Litestar handlers that the solve endpoint is held against: the same bodies, nothing done.

`/answered` decodes the request and encodes the answer to it, which was solved once before: the
same bytes travel as through the solve endpoint. `/echoed` decodes the request and encodes it back,
which is less to encode.
"""

from typing import Annotated

import msgspec
from litestar import Litestar, post
from litestar.params import Body

from service.api.solutions import solution_of
from service.contract.solution import Solution, SolutionRequest
from service.shipped import shipped

SAMPLE = shipped("openapi/examples/solution-request.json").read_bytes()
ANSWER = solution_of(msgspec.json.decode(SAMPLE, type=SolutionRequest))


@post("/answered", status_code=200)
async def answered(data: Annotated[SolutionRequest, Body()]) -> Solution:
    return ANSWER


@post("/echoed", status_code=200)
async def echoed(data: Annotated[SolutionRequest, Body()]) -> SolutionRequest:
    return data


app = Litestar([answered, echoed], openapi_config=None, logging_config=None)
