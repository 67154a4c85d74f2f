"""`/v1/solutions/batch`: many vehicles in one call; nothing is stored."""

import asyncio
import time
from collections.abc import AsyncGenerator
from contextlib import aclosing
from typing import Annotated, Any, cast

from litestar import Request, post
from litestar.params import Body

from service.contract.asgi import Scope, headers_of
from service.contract.batch_answer import batch_items, problem_item
from service.contract.batch_reader import NDJSON, Batch, BatchReader
from service.contract.batches import SolutionBatch, SolutionBatchRequest
from service.contract.media import chosen
from service.contract.problems import ProblemError
from service.contract.replies import PiecesReply, Reply
from service.contract.strict import JSON, StrictRequest

AnyRequest = Request[Any, Any, Any]

HEAD, TAIL = b'{"items":[', b"]}"

LARGEST = 32 * 1024 * 1024
"""Bytes: 5,000 vehicles at six and a half kilobytes each."""

AT_ONCE = 200
"""Vehicles that are solved together: more would gain little, and keep others waiting for longer."""

PATIENCE = 0.01
"""Seconds of work after which other requests get their turn."""


@post(
    "/v1/solutions/batch",
    summary="Solve many vehicles",
    status_code=200,
    request_max_body_size=LARGEST,
    opt={
        "accepts": (JSON, NDJSON),
        "produces": (JSON, NDJSON),
        "reader": BatchReader(),
        "lines": {NDJSON: ("SolutionRequest", "SolutionBatchItem")},
    },
)
async def solve_batch(
    data: Annotated[SolutionBatchRequest, Body()], request: AnyRequest
) -> Reply[SolutionBatch]:
    """Solution requests of up to 5,000 vehicles in, one answer for each out, in their order.

    Each item is a solution or a problem; one bad vehicle spoils no other, but a body that is not
    JSON is refused whole, where of lines only the one is. As
    `application/x-ndjson` the requests come a line each, and so do the answers where `Accept` asks
    for it: each is sent as soon as it is worked out, while later lines may still be on their way.
    What ends such a stream early is its last line, a problem. Vehicles that are read alike are
    solved together.
    """
    batch = cast(Batch, data.items)
    instance = request_instance(request)
    pieces = _pieces(batch, instance)
    if _answers_lines(request):
        # Nothing is sent before the first item is there: until then the whole can be refused.
        first = await anext(pieces, None)
        if first is not None:
            lines = _lines(first, pieces, instance)
            return PiecesReply(lines, media_type=NDJSON)
    await batch.gather()
    parts = [part async for part in pieces]
    length = len(HEAD) + sum(map(len, parts)) + max(len(parts) - 1, 0) + len(TAIL)
    return PiecesReply(_joined(parts), length=length)


def request_instance(request: AnyRequest) -> str:
    """The request's name in problems, by its id."""
    made: bytes = request.scope["request_id"]  # type: ignore[typeddict-item]
    return f"urn:uuid:{made.decode()}"


def _answers_lines(request: AnyRequest) -> bool:
    """Lines out where they are asked for, and where lines came in and nothing else is asked."""
    came = cast(StrictRequest, request).media_type
    first = (NDJSON, JSON) if came == NDJSON else (JSON, NDJSON)
    return chosen(headers_of(cast(Scope, request.scope)).get(b"accept", b"*/*"), first) == NDJSON


async def _pieces(batch: Batch, instance: str) -> AsyncGenerator[bytes, None]:
    """Encoded items, giving other requests their turn every few milliseconds.

    There are no more of them once the client has left.
    """
    index = 0
    turn = time.perf_counter()
    try:
        async for texts in batch.groups(AT_ONCE):
            for piece in batch_items(texts, index, instance):
                if batch.left:
                    return
                if piece is not None:
                    yield piece
                if time.perf_counter() - turn > PATIENCE:
                    await asyncio.sleep(0)
                    turn = time.perf_counter()
            index += len(texts)
    finally:
        batch.close()


async def _lines(
    first: bytes, rest: AsyncGenerator[bytes, None], instance: str
) -> AsyncGenerator[bytes, None]:
    async with aclosing(rest):
        index = 1
        yield first + b"\n"
        try:
            async for piece in rest:
                yield piece + b"\n"
                index += 1
        except ProblemError as problem:
            yield problem_item(index, problem, instance) + b"\n"


async def _joined(parts: list[bytes]) -> AsyncGenerator[bytes, None]:
    """Items as one JSON body, in pieces: to copy 40 MB at once takes a tenth of a second."""
    yield HEAD
    for first in range(0, len(parts), AT_ONCE):
        yield (b"," if first else b"") + b",".join(parts[first : first + AT_ONCE])
    yield TAIL
