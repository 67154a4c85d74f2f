"""Final lists of invoice lines: numbered within the shop, and a change is a new revision."""

from datetime import datetime
from uuid import UUID

import msgspec
import sqlalchemy as sa

from service.store.binding import of_shop
from service.store.errors import NotFound
from service.store.ids import new_id
from service.store.scope import ShopScope
from service.store.tables import line_item_lists
from service.store.visits import VISITS


class LineItemListRecord(msgspec.Struct):
    """A row of `line_item_lists`; `document` is JSON as the door encoded it."""

    id: UUID
    visit_id: UUID
    number: int
    revision: int
    document: bytes
    created_at: datetime


_COLUMNS = [line_item_lists.c[name] for name in LineItemListRecord.__struct_fields__]
_OF_VISIT = of_shop(
    sa.select(*_COLUMNS)
    .where(line_item_lists.c.visit_id == sa.bindparam("visit"))
    .order_by(line_item_lists.c.number, line_item_lists.c.revision)
)


def add(scope: ShopScope, visit_id: UUID, document: bytes) -> LineItemListRecord:
    """Store a final list: the visit's first gets a new number, a later one the next revision.

    An unchanged document is not stored again. Earlier revisions stay as they are.
    """
    VISITS.get(scope, visit_id, locked=True)
    earlier = scope.rows(LineItemListRecord, _OF_VISIT, visit=visit_id)
    if earlier and earlier[-1].document == document:
        return earlier[-1]
    number = earlier[-1].number if earlier else scope.count("line_item_list")
    revision = earlier[-1].revision + 1 if earlier else 1
    record = LineItemListRecord(new_id(), visit_id, number, revision, document, scope.now)
    scope.insert_record(line_item_lists, record)
    data = {"id": record.id, "visit_id": visit_id, "number": number, "revision": revision}
    subject = f"line_item_list/{record.id}"
    scope.announce("line_item_list.created", subject, msgspec.json.encode(data))
    return record


def of_visit(scope: ShopScope, visit_id: UUID) -> list[LineItemListRecord]:
    """Every revision of a visit's list, oldest first."""
    VISITS.get(scope, visit_id)
    return scope.rows(LineItemListRecord, _OF_VISIT, visit=visit_id)


def newest(scope: ShopScope, visit_id: UUID) -> LineItemListRecord:
    """The newest revision; NotFound before the first."""
    found = of_visit(scope, visit_id)
    if not found:
        raise NotFound("final list of line items")
    return found[-1]
