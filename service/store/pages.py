"""Pages of a list, newest first, each found by its place in an index and never by counting."""

from datetime import datetime
from functools import lru_cache
from typing import Any, Generic, TypeVar
from uuid import UUID

import msgspec
import sqlalchemy as sa

from service.store.binding import ShopStatement, of_shop
from service.store.columns import UtcTime
from service.store.cursors import read_cursor, write_cursor
from service.store.scope import ShopScope

Record = TypeVar("Record", bound=msgspec.Struct)

PAGE_LIMIT = 200
"""Rows that a page has at most."""


NUL = "\0"
"""No text that is stored holds it; PostgreSQL takes it in no text, not even to look for it."""


class Page(Generic[Record]):
    """Rows of a list and the cursor of the rest; None at the end."""

    __slots__ = ("items", "next_cursor")

    def __init__(self, items: list[Record], next_cursor: str | None) -> None:
        self.items = items
        self.next_cursor = next_cursor


class Listing(Generic[Record]):
    """A table as it is listed: newest by `time` first, filtered by equality and by time."""

    def __init__(self, table: sa.Table, record: type[Record], time: str) -> None:
        self.table = table
        self.record = record
        self.time = time

    def page(
        self,
        scope: ShopScope,
        equal: dict[str, Any],
        since: datetime | None = None,
        until: datetime | None = None,
        cursor: str | None = None,
        limit: int = 50,
    ) -> Page[Record]:
        """One page. `equal` names columns; `since` is within the range, `until` is beyond it."""
        filter = [str(self.table.name), sorted(equal.items()), since, until]
        place = None
        if cursor is not None:
            place = read_cursor(scope.shop, filter, cursor, tuple[datetime, UUID])
        if any(isinstance(value, str) and NUL in value for value in equal.values()):
            return Page([], None)
        limit = max(1, min(limit, PAGE_LIMIT))
        rows = self.rows(scope, equal, (since, until), place, limit + 1)
        if len(rows) <= limit:
            return Page(rows, None)
        return Page(rows[:limit], write_cursor(scope.shop, filter, self.place(rows[limit - 1])))

    def place(self, record: Any) -> tuple[datetime, UUID]:
        """Where a row stands in the list."""
        return getattr(record, self.time), record.id

    def rows(
        self,
        scope: ShopScope,
        equal: dict[str, Any],
        between: tuple[datetime | None, datetime | None],
        place: tuple[datetime, UUID] | None,
        limit: int,
    ) -> list[Record]:
        """The first rows beyond a place."""
        bounds = dict(zip(("since", "until"), between, strict=True))
        values = {**equal, **{name: at for name, at in bounds.items() if at is not None}}
        if place is not None:
            values["before_time"], values["before_id"] = place
        bound = self.statement(
            tuple(equal), "since" in values, "until" in values, place is not None
        )
        return scope.rows(self.record, bound, **values, limit=limit)

    @lru_cache(maxsize=64)  # noqa: B019 - a listing lives as long as the process
    def statement(
        self, equal: tuple[str, ...], since: bool, until: bool, after: bool
    ) -> ShopStatement[sa.Select[Any]]:
        """The query of one page with filters of these names, made once for each set of names."""
        columns = self.table.c
        time = columns[self.time]
        query = sa.select(*[columns[name] for name in self.record.__struct_fields__])
        query = query.where(columns.deleted_at.is_(None))
        for name in equal:
            query = query.where(columns[name] == sa.bindparam(name, type_=columns[name].type))
        if since:
            query = query.where(time >= sa.bindparam("since", type_=UtcTime))
        if until:
            query = query.where(time < sa.bindparam("until", type_=UtcTime))
        if after:
            place = sa.tuple_(
                sa.bindparam("before_time", type_=UtcTime), sa.bindparam("before_id", type_=sa.Uuid)
            )
            query = query.where(sa.tuple_(time, columns.id) < place)
        query = query.order_by(time.desc(), columns.id.desc())
        return of_shop(query.limit(sa.bindparam("limit", type_=sa.Integer)))
