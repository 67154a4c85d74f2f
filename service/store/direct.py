"""Statements that nearly every request sends: compiled once, then given to the driver as they are.

SQLAlchemy writes their text, converts their values and binds them to the shop, as for any other.
Only its way from a statement to the driver and back is cut short, which takes some 40 µs on SQLite
and 100 µs on PostgreSQL, several times what the database takes for a row.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import Any

import sqlalchemy as sa
from sqlalchemy.engine import AdaptedConnection, Dialect

_Convert = Callable[[Any], Any]


class Direct:
    """A statement for one kind of database; `names` are the columns that an insert fills."""

    __slots__ = ("_binds", "_fixed", "_results", "_text")

    def __init__(
        self, statement: Any, dialect: Dialect, names: Sequence[str] | None = None
    ) -> None:
        compiled = statement.compile(dialect=dialect, column_keys=names)
        if compiled.post_compile_params:
            raise ValueError("a statement whose text depends on its values is none for the driver")
        binds = compiled.binds
        self._text = str(compiled)
        self._fixed = {name: one.value for name, one in binds.items() if not one.required}
        self._binds = [
            (name, binds[name].type.dialect_impl(dialect).bind_processor(dialect))
            for name in compiled.positiontup
        ]
        found = () if isinstance(statement, sa.Insert) else statement.exported_columns
        converted = [c.type.dialect_impl(dialect).result_processor(dialect, None) for c in found]
        self._results = [(place, one) for place, one in enumerate(converted) if one is not None]

    def rows(self, connection: sa.Connection, values: Mapping[str, Any]) -> list[Sequence[Any]]:
        """The rows found, or those that a change returns."""
        text, ordered = self._text, self._ordered(values)
        driver: Any = connection.connection.dbapi_connection
        if isinstance(driver, AdaptedConnection):
            found = driver.run_async(lambda asyncpg: asyncpg.fetch(text, *ordered))
        else:
            found = driver.execute(text, ordered).fetchall()
        return [self._converted(row) for row in found] if self._results else found

    def run(self, connection: sa.Connection, values: Mapping[str, Any]) -> int:
        """Carry out a change; the number of rows it reached."""
        text, ordered = self._text, self._ordered(values)
        driver: Any = connection.connection.dbapi_connection
        if isinstance(driver, AdaptedConnection):
            said = driver.run_async(lambda asyncpg: asyncpg.execute(text, *ordered))
            return int(said.rpartition(" ")[2])  # such as INSERT 0 1
        return int(driver.execute(text, ordered).rowcount)

    def _ordered(self, values: Mapping[str, Any]) -> list[Any]:
        given = {**self._fixed, **values} if self._fixed else values
        return [given[name] if to is None else to(given[name]) for name, to in self._binds]

    def _converted(self, row: Iterable[Any]) -> list[Any]:
        values = list(row)
        for place, convert in self._results:
            values[place] = convert(values[place])
        return values
