"""Binding statements to a shop: the one place that adds the shop to a query.

A scope runs only what went through here, so a query that forgets the shop cannot be run.
"""

from collections.abc import Iterator
from functools import lru_cache
from typing import Any, Generic, TypeVar

import sqlalchemy as sa
from sqlalchemy.engine import Dialect
from sqlalchemy.sql import operators, visitors

from service.store.direct import Direct

Bound = TypeVar("Bound", sa.Select[Any], sa.Update, sa.Delete)

SHOP = sa.bindparam("shop", type_=sa.Uuid)


class ShopStatement(Generic[Bound]):
    """A statement in which every table is bound to the shop of the scope that runs it."""

    __slots__ = ("_direct", "statement")

    def __init__(self, statement: Bound, *, often: bool = False) -> None:
        self.statement: Bound = statement
        self._direct: dict[str, Direct] | None = {} if often else None

    def direct(self, dialect: Dialect) -> Direct | None:
        """The same for the driver, where it is sent often."""
        if self._direct is None:
            return None
        found = self._direct.get(dialect.name)
        if found is None:
            found = self._direct[dialect.name] = Direct(self.statement, dialect)
        return found


def of_shop(statement: Bound, *, often: bool = False) -> ShopStatement[Bound]:
    """Bind every table that the statement reads or writes to the shop of the running scope.

    A nested select must itself come from `of_shop`; otherwise a ValueError names its table. One
    that is sent `often`, made once, goes to the driver by the short way (`direct`).
    """
    bound: Any = statement
    for table in _sources(statement):
        bound = bound.where(table.c.shop_id == SHOP)
    for part in visitors.iterate(bound):
        if isinstance(part, sa.Select | sa.Update | sa.Delete):
            _check_bound(part)
    return ShopStatement(bound, often=often)


def _sources(statement: Any) -> Iterator[sa.Table]:
    sources = statement.get_final_froms() if isinstance(statement, sa.Select) else [statement.table]
    for source in sources:
        yield from _tables(source)


def _tables(source: Any) -> Iterator[sa.Table]:
    if isinstance(source, sa.Table):
        yield source
    elif isinstance(source, sa.Join):
        yield from _tables(source.left)
        yield from _tables(source.right)
    elif not isinstance(source, sa.Subquery):  # a subquery is a select, checked on its own
        raise ValueError(f"a query from {type(source).__name__} cannot be bound to a shop")


def _check_bound(part: Any) -> None:
    clause = part.whereclause
    terms = [] if clause is None else [clause]
    if isinstance(clause, sa.BooleanClauseList) and clause.operator is operators.and_:
        terms = list(clause.clauses)
    bound = {
        term.left
        for term in terms
        if isinstance(term, sa.BinaryExpression)
        and term.operator is operators.eq
        and term.right is SHOP
    }
    for table in _sources(part):
        if table.c.shop_id not in bound:
            raise ValueError(f"a query of {table.name} is not bound to a shop")


@lru_cache(maxsize=256)
def insert_into(table: sa.Table) -> sa.Insert:
    """The insert of rows of a table; made once, the shop comes with each row."""
    return sa.insert(table)


@lru_cache(maxsize=256)
def insert_one(table: sa.Table, names: tuple[str, ...], dialect: Dialect) -> Direct:
    """The insert of one row that fills these columns, for the driver."""
    return Direct(sa.insert(table), dialect, names)


@lru_cache(maxsize=256)
def select_by(
    table: sa.Table, columns: tuple[str, ...], keys: tuple[str, ...], *, locked: bool = False
) -> ShopStatement[sa.Select[Any]]:
    """The row with these keys, deleted or not; `locked` keeps others from changing it meanwhile."""
    statement = sa.select(*[table.c[name] for name in columns])
    statement = statement.where(*[table.c[key] == sa.bindparam(key) for key in keys])
    return of_shop(statement.with_for_update(read=True) if locked else statement, often=True)


@lru_cache(maxsize=256)
def update_revision(
    table: sa.Table, key: str, columns: frozenset[str], deleted: bool
) -> ShopStatement[sa.Update]:
    """The change of `columns` of the row with a key and a revision, which it raises by one."""
    gone = table.c.deleted_at
    changes: dict[str, Any] = {name: sa.bindparam(f"new_{name}") for name in columns}
    changes["revision"] = table.c.revision + 1
    return of_shop(
        sa.update(table)
        .where(
            table.c[key] == sa.bindparam("which"),
            table.c.revision == sa.bindparam("expected"),
            gone.is_not(None) if deleted else gone.is_(None),
        )
        .values(changes),
        often=True,
    )
