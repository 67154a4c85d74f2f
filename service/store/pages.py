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
        limit = max(1, min(limit, PAGE_LIMIT))
        values: dict[str, Any] = {**equal, "limit": limit + 1, "since": since, "until": until}
        if cursor is not None:
            place = read_cursor(scope.shop, filter, cursor, tuple[datetime, UUID])
            values["before_time"], values["before_id"] = place
        bound = self.statement(
            tuple(equal), since is not None, until is not None, cursor is not None
        )
        if since is None:
            del values["since"]
        if until is None:
            del values["until"]
        rows = scope.rows(self.record, bound, **values)
        if len(rows) <= limit:
            return Page(rows, None)
        last: Any = rows[limit - 1]
        place = (getattr(last, self.time), last.id)
        return Page(rows[:limit], write_cursor(scope.shop, filter, place))

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
            query = query.where(self.equal_to(name))
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

    def equal_to(self, name: str) -> sa.ColumnElement[bool]:
        """The condition of the filter `name`: a column of the table itself."""
        column = self.table.c[name]
        return column == sa.bindparam(name, type_=column.type)
