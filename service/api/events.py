"""`/v1/events`: what changed in a shop, read by cursor."""

from typing import Annotated
from uuid import UUID

import msgspec
from litestar import get
from litestar.params import QueryParameter

from service.api.access import needs
from service.api.storing import AnyRequest, LimitQuery, read
from service.contract.events import EventData, EventPage, StoredEvent
from service.store import events
from service.store.cursors import read_cursor, write_cursor
from service.store.events import EventRecord
from service.store.scope import ShopScope

_FILTER = ("events",)
_DATA = msgspec.json.Decoder(EventData)
_CURSOR = QueryParameter(
    description="`next_cursor` of the page before; without it, from the shop's first event.",
    min_length=1,
    max_length=400,
)


@get("/v1/events", summary="List events", **needs("read"))
async def list_events(
    request: AnyRequest,
    cursor: Annotated[str | None, _CURSOR] = None,
    limit: LimitQuery = 50,
) -> EventPage:
    """Events in the order they were committed, oldest first.

    Keep `next_cursor` and ask with it again: no event is ever missed or told twice, however many
    write at once. A page without items means that nothing has happened since.
    """

    def work(scope: ShopScope) -> EventPage:
        after = 0
        if cursor is not None:
            [after] = read_cursor(scope.shop, _FILTER, cursor, tuple[int])
        found = events.after(scope, after, limit)
        last = found[-1].sequence if found else after
        return EventPage(
            items=[shown(record) for record in found],
            next_cursor=cursor_after(scope.shop, last),
        )

    return await read(request, work)


def cursor_after(shop: UUID, sequence: int) -> str:
    """The cursor of the events after a number."""
    return write_cursor(shop, _FILTER, (sequence,))


def shown(record: EventRecord) -> StoredEvent:
    """An event as it is answered and as it is pushed."""
    return StoredEvent(
        sequence=record.sequence,
        id=record.id,
        type=record.type,
        subject=record.subject,
        data=_DATA.decode(record.data),
        created_at=record.created_at,
    )
