"""Writing the rows that a unit of work has left to the end, in as few statements as can be."""

from functools import lru_cache
from itertools import groupby
from typing import Any
from uuid import UUID

import sqlalchemy as sa
from sqlalchemy.engine import Dialect

from service.store.binding import SHOP, insert_into, insert_one
from service.store.direct import Direct
from service.store.tables import counters, events

Waiting = tuple[sa.Table, dict[str, Any]]
"""A row to be inserted, and where."""

_EVENT = ("id", "type", "subject", "data", "created_at")


def insert_all(connection: sa.Connection, waiting: list[Waiting]) -> None:
    """Insert the rows in their order; neighbours of one table and the same columns together."""
    for (table, _), group in groupby(waiting, key=lambda one: (one[0], tuple(one[1]))):
        rows = [row for _, row in group]
        if len(rows) > 1:
            connection.execute(insert_into(table), rows)
        else:
            insert_one(table, tuple(rows[0]), connection.dialect).run(connection, rows[0])


def insert_with_event(
    connection: sa.Connection, shop: UUID, waiting: list[Waiting], event: dict[str, Any]
) -> bool:
    """Insert the rows and the event that tells of them in one statement (PostgreSQL).

    False when the shop has no counter, which means that there is no such shop.
    """
    parameters: dict[str, Any] = {"shop": shop}
    for place, (_, row) in enumerate(waiting):
        parameters |= {f"row{place}_{name}": value for name, value in row.items()}
    parameters |= {f"event_{name}": value for name, value in event.items()}
    shape = tuple((table, tuple(row)) for table, row in waiting)
    return _statement(shape, connection.dialect).run(connection, parameters) == 1


@lru_cache(maxsize=256)
def _statement(shape: tuple[tuple[sa.Table, tuple[str, ...]], ...], dialect: Dialect) -> Direct:
    """Rows first, then the counter, then the event with the counter's number.

    The counter asks whether the rows are in. That makes PostgreSQL insert them before it locks
    the counter, so that nobody waits for a row's unique key while holding the counter.
    """
    parts = [_part(place, table, names) for place, (table, names) in enumerate(shape)]
    inserted = [sa.select(sa.func.count()).select_from(p).scalar_subquery() == 1 for p in parts]
    number = (
        sa.update(counters)
        .where(counters.c.shop_id == SHOP, counters.c.name == "event", *inserted)
        .values(last=counters.c.last + 1)
        .returning(counters.c.last)
        .cte("number")
    )
    told = [sa.bindparam(f"event_{name}", type_=events.c[name].type).label(name) for name in _EVENT]
    event = sa.select(SHOP.label("shop_id"), number.c.last, *told)
    told_of = sa.insert(events).from_select(["shop_id", "sequence", *_EVENT], event)
    return Direct(told_of, dialect)


def _part(place: int, table: sa.Table, names: tuple[str, ...]) -> sa.CTE:
    values = {name: sa.bindparam(f"row{place}_{name}", type_=table.c[name].type) for name in names}
    return sa.insert(table).values(values).returning(table.c.shop_id).cte(f"row{place}")
