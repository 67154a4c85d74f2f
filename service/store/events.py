"""A shop's events in the order their transactions were committed, and what to read next.

A writer takes its number from the shop's counter as its last act and holds the counter until its
commit (`ShopScope.finish`). A reader who has seen number n can therefore never find a smaller
one that appears later, however many writers there are.
"""

from datetime import datetime
from uuid import UUID

import msgspec
import sqlalchemy as sa

from service.store.binding import of_shop
from service.store.scope import ShopScope
from service.store.tables import counters, events


class EventRecord(msgspec.Struct):
    """A row of `events`; `data` is JSON, thin: ids and revisions, to be fetched by who cares."""

    sequence: int
    id: UUID
    type: str
    subject: str
    data: bytes
    created_at: datetime


_COLUMNS = [events.c[name] for name in EventRecord.__struct_fields__]
_AFTER = of_shop(
    sa.select(*_COLUMNS)
    .where(events.c.sequence > sa.bindparam("after"))
    .order_by(events.c.sequence)
    .limit(sa.bindparam("limit", type_=sa.Integer))
)
_LAST = of_shop(sa.select(counters.c.last).where(counters.c.name == "event"))


def after(scope: ShopScope, sequence: int, limit: int) -> list[EventRecord]:
    """The events after a number, in order."""
    return scope.rows(EventRecord, _AFTER, after=sequence, limit=limit)


def last_sequence(scope: ShopScope) -> int:
    """The number of the newest event, 0 before the first."""
    return int(next(iter(scope.scalars(_LAST)), 0))
