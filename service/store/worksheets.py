"""Worksheets that were issued: numbered within the shop, never changed."""

from collections.abc import Callable
from datetime import datetime
from hashlib import sha256
from uuid import UUID

import msgspec
import sqlalchemy as sa

from service.store.binding import of_shop
from service.store.errors import NotFound
from service.store.ids import new_id
from service.store.scope import ShopScope
from service.store.tables import worksheets
from service.store.visits import VISITS


class WorksheetRecord(msgspec.Struct):
    """A row of `worksheets`; `content` is what the sheet states, `sha256` its hash."""

    id: UUID
    visit_id: UUID
    number: int
    sha256: str
    before_round: UUID
    after_round: UUID | None
    content: bytes
    created_at: datetime


_COLUMNS = [worksheets.c[name] for name in WorksheetRecord.__struct_fields__]
_OF_VISIT = of_shop(
    sa.select(*_COLUMNS)
    .where(worksheets.c.visit_id == sa.bindparam("visit"))
    .order_by(worksheets.c.number)
)


def add(
    scope: ShopScope,
    visit_id: UUID,
    rounds: tuple[UUID, UUID | None],
    content_under: Callable[[int], bytes],
) -> WorksheetRecord:
    """Issue a sheet under the shop's next number, which is part of its content.

    A sheet that states what the visit's newest one states is not issued again.
    """
    VISITS.get(scope, visit_id, locked=True)
    earlier = scope.rows(WorksheetRecord, _OF_VISIT, visit=visit_id)
    if earlier and earlier[-1].content == content_under(earlier[-1].number):
        return earlier[-1]
    number = scope.count("worksheet")
    content = content_under(number)
    record = WorksheetRecord(
        new_id(), visit_id, number, sha256(content).hexdigest(), *rounds, content, scope.now
    )
    scope.insert_record(worksheets, record)
    data = {"id": record.id, "visit_id": visit_id, "number": number}
    scope.announce("worksheet.created", f"worksheet/{record.id}", msgspec.json.encode(data))
    return record


def of_visit(scope: ShopScope, visit_id: UUID) -> list[WorksheetRecord]:
    """Every sheet of a visit, oldest first."""
    VISITS.get(scope, visit_id)
    return scope.rows(WorksheetRecord, _OF_VISIT, visit=visit_id)


def get(scope: ShopScope, visit_id: UUID, id: UUID) -> WorksheetRecord:
    """The sheet of a visit that is not deleted."""
    VISITS.get(scope, visit_id)
    found = scope.find(WorksheetRecord, worksheets, id=id)
    if found is None or found.visit_id != visit_id:
        raise NotFound("worksheet")
    return found
