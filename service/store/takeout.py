"""A shop's whole data as lines of JSON, and back into an empty database of either kind.

Every line is one row, as `{"table": ..., "row": {...}}`; the first names the shop and the format,
the last says how many rows there were, so that a torn file is seen. Parents stand before
children. Documents go through letter by letter.

Left out on purpose: API keys and secrets of webhook endpoints (a file of rows is no place for
them; new ones are made), kept answers and deliveries on their way (they belong to the server
that was left).
"""

from collections.abc import Iterable, Iterator
from datetime import datetime
from typing import Any
from uuid import UUID

import msgspec
import sqlalchemy as sa

from service.store import webhook_secrets
from service.store.binding import of_shop
from service.store.columns import JsonBytes, UtcTime
from service.store.errors import StoreError
from service.store.scope import ShopScope
from service.store.shops import COUNTERS
from service.store.tables import (
    counters,
    events,
    line_item_lists,
    rate_card_versions,
    rate_cards,
    rounds,
    shops,
    target_set_versions,
    target_sets,
    vehicles,
    visits,
    webhook_endpoints,
    worksheets,
)

FORMAT = "axlewright-shop"
VERSION = 1
PAGE = 500

TABLES = (
    counters,
    vehicles,
    visits,
    rounds,
    target_sets,
    target_set_versions,
    rate_cards,
    rate_card_versions,
    line_item_lists,
    worksheets,
    events,
    webhook_endpoints,
)
"""Parents before children."""

_SECRET = {"webhook_endpoints": ("secrets",)}


class TakeoutError(StoreError):
    """A file that cannot be taken in; says in which line and why."""


class _Line(msgspec.Struct):
    table: str
    row: dict[str, msgspec.Raw]


class _Head(msgspec.Struct):
    format: str
    version: int
    shop: UUID
    name: str


class _Tail(msgspec.Struct):
    rows: int


def lines_of(scope: ShopScope) -> Iterator[bytes]:
    """The lines of a shop, each with its newline; run it in a snapshot."""
    name = of_shop(sa.select(shops.c.name))
    head = _Head(FORMAT, VERSION, scope.shop, scope.scalars(name)[0])
    yield msgspec.json.encode(head) + b"\n"
    count = 0
    for table in TABLES:
        for row in _rows(scope, table):
            count += 1
            yield msgspec.json.encode({"table": str(table.name), "row": row}) + b"\n"
    yield msgspec.json.encode(_Tail(count)) + b"\n"


def _rows(scope: ShopScope, table: sa.Table) -> Iterator[dict[str, Any]]:
    """The rows of a table by primary key, a page at a time; memory stays small."""
    keys = [column for column in table.primary_key.columns if column.name != "shop_id"]
    hidden = ("shop_id", *_SECRET.get(table.name, ()))
    columns = [column for column in table.columns if column.name not in hidden]
    documents = [column.name for column in columns if isinstance(column.type, JsonBytes)]
    query = sa.select(*columns).order_by(*keys).limit(PAGE)
    place: tuple[Any, ...] | None = None
    while True:
        beyond = query
        if place is not None:
            here = [sa.literal(v, c.type) for v, c in zip(place, keys, strict=True)]
            beyond = query.where(sa.tuple_(*keys) > sa.tuple_(*here))
        page = scope.dicts(of_shop(beyond))
        for row in page:
            yield {**row, **{name: msgspec.Raw(row[name]) for name in documents}}
        if len(page) < PAGE:
            return
        place = tuple(page[-1][key.name] for key in keys)


def shop_in(head: bytes) -> tuple[UUID, str]:
    """The shop that a file is of, by its first line."""
    try:
        found = msgspec.json.decode(head, type=_Head)
    except msgspec.MsgspecError:
        raise TakeoutError("line 1 is not the head of a shop's export") from None
    if (found.format, found.version) != (FORMAT, VERSION):
        raise TakeoutError(f"line 1 names {found.format} {found.version}; read is {FORMAT} 1")
    return found.shop, found.name


def take_in(scope: ShopScope, lines: Iterable[bytes]) -> int:
    """Insert the rows after the head of a file into a shop that has none; how many there were."""
    tables = {str(table.name): table for table in TABLES}
    if scope.scalars(of_shop(sa.select(events.c.sequence).limit(1))):
        raise TakeoutError("the shop has data here already; take it into an empty database")
    scope.run(of_shop(sa.delete(counters)))
    count = 0
    ended = False
    for number, line in enumerate(lines, start=2):
        if ended:
            raise TakeoutError(f"line {number} stands after the end")
        try:
            if line.startswith(b'{"rows":'):
                ended = msgspec.json.decode(line, type=_Tail).rows == count
                if not ended:
                    raise TakeoutError(f"line {number} says another number of rows than {count}")
                continue
            entry = msgspec.json.decode(line, type=_Line)
            scope.insert(tables[entry.table], _values(scope, tables[entry.table], entry.row))
        except (msgspec.MsgspecError, KeyError) as error:
            raise TakeoutError(f"line {number} cannot be read: {error}") from None
        count += 1
        if count % PAGE == 0:
            scope.flush()  # memory stays small
    if not ended:
        raise TakeoutError("the file is cut off: its last line is missing")
    _begin_counters(scope)
    return count


def _begin_counters(scope: ShopScope) -> None:
    """Add the counters that a file of an earlier release does not have."""
    there = scope.scalars(of_shop(sa.select(counters.c.name)))
    for name in COUNTERS:
        if name not in there:
            scope.insert(counters, {"name": name, "last": 0})


def _values(scope: ShopScope, table: sa.Table, row: dict[str, msgspec.Raw]) -> dict[str, Any]:
    values = {name: _value(table.c[name], raw) for name, raw in row.items()}
    for name in _SECRET.get(str(table.name), ()):
        values[name] = webhook_secrets.encode(webhook_secrets.begin(scope.now))
    return values


def _value(column: sa.Column[Any], raw: msgspec.Raw) -> Any:
    if isinstance(column.type, JsonBytes):
        return bytes(raw)
    kinds: dict[type, Any] = {UtcTime: datetime, sa.Uuid: UUID, sa.Text: str, sa.Boolean: bool}
    kind = next((to for of, to in kinds.items() if isinstance(column.type, of)), int)
    return msgspec.json.decode(raw, type=kind | None if column.nullable else kind)
