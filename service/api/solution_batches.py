"""`/v1/solutions/batch`: many vehicles in one call; nothing is stored."""

import asyncio
import time
from collections.abc import AsyncIterator, Sequence
from typing import Annotated, Any

from litestar import post
from litestar.params import Body
from litestar.response import Stream

from service.contract.batch_answer import batch_items
from service.contract.batch_reader import NDJSON, BatchReader, Item
from service.contract.batches import SolutionBatch, SolutionBatchRequest
from service.contract.media import chosen
from service.contract.replies import Reply
from service.contract.strict import JSON, StrictRequest

LARGEST = 32 * 1024 * 1024
"""Bytes: 5,000 vehicles at six and a half kilobytes each."""

AT_ONCE = 100
"""Vehicles that are solved together before other requests get their turn."""

PATIENCE = 0.01
"""Seconds of writing after which other requests get their turn."""


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
    data: Annotated[SolutionBatchRequest, Body()], request: StrictRequest
) -> Reply[SolutionBatch]:
    """Solution requests of up to 5,000 vehicles in, one answer for each out, in their order.

    Each item is a solution or a problem; one bad vehicle spoils no other. As
    `application/x-ndjson` the requests come a line each, and so do the answers where `Accept` asks
    for it, as they are worked out. Vehicles that are read alike are solved together.
    """
    items: Sequence[Item] = data.items
    instance = request_instance(request)
    if _answers_lines(request):
        lines: Reply[SolutionBatch] = _stream(_lines(items, instance))
        return lines
    parts = [part async for part in _pieces(items, instance)]
    return Reply(b'{"items":[' + b",".join(parts) + b"]}")


def _stream(lines: AsyncIterator[bytes]) -> Any:
    """An answer that is sent while it is written; the handler's declared one describes it."""
    return Stream(lines, media_type=NDJSON)


def request_instance(request: StrictRequest) -> str:
    """The request's name in problems, by its id."""
    made: bytes = request.scope["request_id"]  # type: ignore[typeddict-item]
    return f"urn:uuid:{made.decode()}"


def _answers_lines(request: StrictRequest) -> bool:
    """Lines out where they are asked for, and where lines came in and nothing else is asked."""
    first = (NDJSON, JSON) if request.media_type == NDJSON else (JSON, NDJSON)
    return chosen(dict(request.scope["headers"]).get(b"accept", b"*/*"), first) == NDJSON


async def _pieces(items: Sequence[Item], instance: str) -> AsyncIterator[bytes]:
    """Encoded items, giving other requests their turn every few milliseconds."""
    turn = time.perf_counter()
    for first in range(0, len(items), AT_ONCE):
        for piece in batch_items(items[first : first + AT_ONCE], first, instance):
            yield piece
            if time.perf_counter() - turn > PATIENCE:
                await asyncio.sleep(0)
                turn = time.perf_counter()


async def _lines(items: Sequence[Item], instance: str) -> AsyncIterator[bytes]:
    async for piece in _pieces(items, instance):
        yield piece + b"\n"
