"""`/v1/syncs`: a day's offline work in one call.

Each item is a unit of work of its own: one that is refused spoils no other. All are safe to
repeat, so a call whose answer was lost is simply sent again.
"""

import asyncio
from collections.abc import Callable
from typing import Annotated, cast
from uuid import UUID

from litestar import post
from litestar.params import Body

from service.api import rounds, vehicles, visits
from service.api.access import needs
from service.api.callers import Caller
from service.api.storing import AnyRequest, read, write
from service.contract.problems import ProblemError
from service.contract.sync_reader import SentItem, SyncReader, id_in, read_item
from service.contract.syncs import SyncAnswer, SyncRequest, SyncResult, SyncRound, SyncVehicle
from service.store.scope import ShopScope
from service.store.vehicles import VEHICLES

LARGEST = 8 * 1024 * 1024

Outcome = tuple[bool, int | None]
"""Whether the item is new, and its revision if it has one."""


@post(
    "/v1/syncs",
    summary="Store a day's offline work",
    status_code=200,
    request_max_body_size=LARGEST,
    **needs("write", reader=SyncReader()),
)
async def sync_work(request: AnyRequest, data: Annotated[SyncRequest, Body()]) -> SyncAnswer:
    """Vehicles, visits and rounds under the client's own ids, stored in the order they are sent.

    The answer is 200 whenever the body could be read; each item has its own status. Sending all
    of it again changes nothing.
    """
    texts = cast(list[bytes], data.items)  # as `SyncReader` leaves them
    return SyncAnswer(
        items=[await _result(request, index, text) for index, text in enumerate(texts)]
    )


async def _result(request: AnyRequest, index: int, text: bytes) -> SyncResult:
    try:
        sent = read_item(text, index)
    except ProblemError as problem:
        await _proved(request)
        return _refused(request, index, id_in(text), problem)
    id = sent.item.id
    try:
        new, revision = await write(request, _work(sent))
    except ProblemError as error:
        if error.kind.status in (401, 403) or error.kind.status >= 500:
            raise  # not of the item: the next one would fare the same
        return _refused(request, index, id, error.within("items", index, "content"))
    return SyncResult(
        index=index, id=id, status=201 if new else 200, revision=revision, problem=None
    )


async def _proved(request: AnyRequest) -> None:
    """Look at the key where no item's work has done so yet, and let others have their turn.

    An item that cannot be read has no work, and nobody without a key is answered.
    """
    caller: Caller = request.scope["caller"]  # type: ignore[typeddict-item]
    if not caller.proved:
        await read(request, lambda scope: None)
    await asyncio.sleep(0)


def _work(sent: SentItem) -> Callable[[ShopScope], Outcome]:
    item = sent.item

    def work(scope: ShopScope) -> Outcome:
        if isinstance(item, SyncVehicle):
            content = vehicles.content_of(item.content)
            vehicle, new = VEHICLES.put(scope, item.id, content, item.revision)
            return new, vehicle.revision
        if isinstance(item, SyncRound):
            _, new = rounds.put_content(scope, item.visit_id, item.id, item.content, sent.readings)
            return new, None
        visit, new = visits.put_content(scope, item.id, item.content, item.revision)
        return new, visit.revision

    return work


def _refused(request: AnyRequest, index: int, id: UUID, error: ProblemError) -> SyncResult:
    request_id: bytes = request.scope.get("request_id", b"")  # type: ignore[assignment]
    problem = error.problem(f"urn:uuid:{request_id.decode()}")
    return SyncResult(index=index, id=id, status=error.kind.status, revision=None, problem=problem)
