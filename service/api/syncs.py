"""`/v1/syncs`: a day's offline work in one call.

Each item is a unit of work of its own: one that is refused spoils no other. All are safe to
repeat, so a call whose answer was lost is simply sent again.
"""

from collections.abc import Callable
from typing import Annotated
from uuid import UUID

import msgspec
from litestar import post
from litestar.params import Body

from service.api import rounds, vehicles, visits
from service.api.access import needs
from service.api.storing import AnyRequest, write
from service.contract.problems import ProblemError
from service.contract.syncs import (
    SyncAnswer,
    SyncItem,
    SyncRequest,
    SyncResult,
    SyncRound,
    SyncVehicle,
)
from service.store.scope import ShopScope
from service.store.vehicles import VEHICLES

LARGEST = 8 * 1024 * 1024

Outcome = tuple[bool, int | None]
"""Whether the item is new, and its revision if it has one."""


class _RawContent(msgspec.Struct):
    request: msgspec.Raw = msgspec.Raw()


class _RawItem(msgspec.Struct):
    content: _RawContent


class _RawRequest(msgspec.Struct):
    items: list[_RawItem]


_RAW = msgspec.json.Decoder(_RawRequest)


@post(
    "/v1/syncs",
    summary="Store a day's offline work",
    status_code=200,
    request_max_body_size=LARGEST,
    **needs("write"),
)
async def sync_work(request: AnyRequest, data: Annotated[SyncRequest, Body()]) -> SyncAnswer:
    """Vehicles, visits and rounds under the client's own ids, stored in the order they are sent.

    The answer is 200 whenever the body could be read; each item has its own status. Sending all
    of it again changes nothing.
    """
    sent = _RAW.decode(await request.body()).items
    results = []
    for index, item in enumerate(data.items):
        readings = bytes(sent[index].content.request)
        results.append(await _result(request, index, item, readings))
    return SyncAnswer(items=results)


async def _result(request: AnyRequest, index: int, item: SyncItem, readings: bytes) -> SyncResult:
    try:
        new, revision = await write(request, _work(item, readings))
    except ProblemError as error:
        if error.kind.status in (401, 403) or error.kind.status >= 500:
            raise  # not of the item: the next one would fare the same
        return _refused(request, index, item.id, error)
    return SyncResult(
        index=index, id=item.id, status=201 if new else 200, revision=revision, problem=None
    )


def _work(item: SyncItem, readings: bytes) -> Callable[[ShopScope], Outcome]:
    def work(scope: ShopScope) -> Outcome:
        if isinstance(item, SyncVehicle):
            content = vehicles.content_of(item.content)
            vehicle, new = VEHICLES.put(scope, item.id, content, item.revision)
            return new, vehicle.revision
        if isinstance(item, SyncRound):
            _, new = rounds.put_content(scope, item.visit_id, item.id, item.content, readings)
            return new, None
        visit, new = visits.put_content(scope, item.id, item.content, item.revision)
        return new, visit.revision

    return work


def _refused(request: AnyRequest, index: int, id: UUID, error: ProblemError) -> SyncResult:
    request_id: bytes = request.scope.get("request_id", b"")  # type: ignore[assignment]
    told = error.within("items", index, "content")
    problem = told.problem(f"urn:uuid:{request_id.decode()}")
    return SyncResult(index=index, id=id, status=error.kind.status, revision=None, problem=problem)
