"""One unit of work of one shop: all that a repository can do to the database.

Repositories hold a `ShopScope`, never a connection. It runs what `binding.of_shop` has bound to
the shop and inserts rows of its own shop only.
"""

from collections.abc import Callable, Sequence
from datetime import UTC, datetime
from typing import Any, TypeVar
from uuid import UUID

import msgspec
import sqlalchemy as sa

from service.store.binding import (
    ShopStatement,
    of_shop,
    select_by,
    update_revision,
)
from service.store.errors import NotFound
from service.store.flush import Waiting, insert_all, insert_with_event
from service.store.ids import new_id
from service.store.tables import counters, events

Record = TypeVar("Record", bound=msgspec.Struct)
T = TypeVar("T")

_COUNT = of_shop(
    sa.update(counters)
    .where(counters.c.name == sa.bindparam("which"))
    .values(last=counters.c.last + sa.bindparam("step"))
    .returning(counters.c.last),
    often=True,
)


class ShopScope:
    """A shop's view of the database within one transaction; `now` is the same throughout.

    Inserts wait until something is read or changed, or the work is done: PostgreSQL then takes
    the row, the kept answer and the event of a request in one statement.
    """

    __slots__ = ("_announced", "_connection", "_waiting", "now", "shop")

    def __init__(self, connection: sa.Connection, shop: UUID) -> None:
        self._connection = connection
        self._announced: list[tuple[str, str, bytes]] = []
        self._waiting: list[Waiting] = []
        self.shop = shop
        self.now = datetime.now(UTC)

    def flush(self) -> None:
        """Send the inserts that wait; for work that has more of them than memory should hold."""
        if self._waiting:
            waiting, self._waiting = self._waiting, []
            insert_all(self._connection, waiting)

    def _found(self, bound: ShopStatement[Any], parameters: dict[str, Any]) -> Sequence[Any]:
        """The rows that a statement finds or returns."""
        self.flush()
        values = {**parameters, "shop": self.shop}
        direct = bound.direct(self._connection.dialect)
        if direct is not None:
            return direct.rows(self._connection, values)
        return self._connection.execute(bound.statement, values).all()

    def rows(
        self, kind: type[Record], bound: ShopStatement[sa.Select[Any]], **parameters: Any
    ) -> list[Record]:
        """The rows found, as records; the statement selects the record's fields in order."""
        return [kind(*row) for row in self._found(bound, parameters)]

    def first(
        self, kind: type[Record], bound: ShopStatement[sa.Select[Any]], **parameters: Any
    ) -> Record | None:
        """The first row found, as a record."""
        found = self._found(bound, parameters)
        return kind(*found[0]) if found else None

    def scalars(self, bound: ShopStatement[sa.Select[Any]], **parameters: Any) -> list[Any]:
        """The first column of the rows found."""
        return [row[0] for row in self._found(bound, parameters)]

    def dicts(
        self, bound: ShopStatement[sa.Select[Any]], **parameters: Any
    ) -> list[dict[str, Any]]:
        """The rows found, by column name."""
        self.flush()
        values = {**parameters, "shop": self.shop}
        found = self._connection.execute(bound.statement, values)
        return [dict(row) for row in found.mappings()]

    def run(
        self, bound: ShopStatement[sa.Update] | ShopStatement[sa.Delete], **parameters: Any
    ) -> int:
        """Carry out a change; the number of rows it reached."""
        self.flush()
        values = {**parameters, "shop": self.shop}
        direct = bound.direct(self._connection.dialect)
        if direct is not None:
            return direct.run(self._connection, values)
        return self._connection.execute(bound.statement, values).rowcount

    def find(
        self, kind: type[Record], table: sa.Table, *, locked: bool = False, **keys: Any
    ) -> Record | None:
        """The row with these keys, deleted or not."""
        bound = select_by(table, kind.__struct_fields__, tuple(keys), locked=locked)
        return self.first(kind, bound, **keys)

    def insert(self, table: sa.Table, values: dict[str, Any]) -> None:
        """Add one row of this shop."""
        if values.setdefault("shop_id", self.shop) != self.shop:
            raise ValueError("a scope writes rows of its own shop only")
        self._waiting.append((table, values))

    def insert_record(self, table: sa.Table, record: msgspec.Struct) -> None:
        """Add one row of this shop whose columns are the record's fields."""
        self.insert(table, {name: getattr(record, name) for name in record.__struct_fields__})

    def change(
        self,
        table: sa.Table,
        which: UUID | str,
        revision: int,
        values: dict[str, Any],
        *,
        key: str = "id",
        deleted: bool = False,
    ) -> bool:
        """Change the row whose revision is still this one; whether there was such a row.

        The revision goes up by one. `deleted` reaches a deleted row, and only such a one.
        """
        columns = frozenset(values) | {"updated_at"}
        renamed = {f"new_{name}": value for name, value in values.items()}
        renamed["new_updated_at"] = self.now
        bound = update_revision(table, key, columns, deleted)
        return bool(self.run(bound, which=which, expected=revision, **renamed))

    def count(self, name: str, step: int = 1) -> int:
        """Raise the shop's counter and return it; the row stays locked until the commit.

        The lock makes the order of the numbers the order of the commits, without gaps.
        """
        found = self._found(_COUNT, {"which": name, "step": step})
        if not found:
            raise NotFound("shop")
        return int(found[0][0])

    def announce(self, type: str, subject: str, data: bytes) -> None:
        """Note an event; it is written at the end of this transaction."""
        self._announced.append((type, subject, data))

    def announced(self) -> bool:
        """Whether this unit of work has events to tell."""
        return bool(self._announced)

    def finish(self) -> None:
        """Write what still waits and the events noted, the very last thing before the commit.

        A shop's counter is locked from here to the commit only, so that writers of one shop wait
        for each other as briefly as can be, and always after every other lock (no deadlock).
        """
        waiting, self._waiting = self._waiting, []
        told = [
            {
                "id": new_id(),
                "type": type,
                "subject": subject,
                "data": data,
                "created_at": self.now,
            }
            for type, subject, data in self._announced
        ]
        if len(told) == 1 and self._connection.dialect.name == "postgresql":
            if not insert_with_event(self._connection, self.shop, waiting, told[0]):
                raise NotFound("shop")
            return
        insert_all(self._connection, waiting)
        if told:
            first = self.count("event", len(told)) - len(told) + 1
            for place, event in enumerate(told):
                event |= {"shop_id": self.shop, "sequence": first + place}
            insert_all(self._connection, [(events, event) for event in told])


def reading(connection: sa.Connection, shop: UUID, work: Callable[[ShopScope], T]) -> T:
    """Run work that must change nothing; RuntimeError if it wanted to."""
    scope = ShopScope(connection, shop)
    result = work(scope)
    if scope._waiting or scope._announced:
        raise RuntimeError("work that was run to read wanted to write")
    return result


def writing(connection: sa.Connection, shop: UUID, work: Callable[[ShopScope], T]) -> T:
    """Run work and write all it has left to the end; the caller commits."""
    scope = ShopScope(connection, shop)
    result = work(scope)
    scope.finish()
    return result
