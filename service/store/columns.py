"""Column types that hold the same value on SQLite and on PostgreSQL."""

from datetime import UTC, datetime
from typing import Any

import sqlalchemy as sa
from sqlalchemy.engine import Dialect


class UtcTime(sa.types.TypeDecorator[datetime]):
    """An instant in UTC to the microsecond; SQLite keeps it as fixed-width text, which sorts."""

    impl = sa.DateTime(timezone=True)
    cache_ok = True

    def load_dialect_impl(self, dialect: Dialect) -> Any:
        """Text of 27 characters on SQLite, `timestamptz` on PostgreSQL."""
        if dialect.name == "sqlite":
            return dialect.type_descriptor(sa.String(27))
        return dialect.type_descriptor(sa.DateTime(timezone=True))

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> Any:
        """Refuses a time without an offset: it would be read as the server's own zone."""
        if value is None:
            return None
        if value.tzinfo is None:
            raise ValueError("a stored time needs an offset from UTC")
        utc = value.astimezone(UTC)
        if dialect.name == "sqlite":
            return utc.isoformat(timespec="microseconds")[:26] + "Z"
        return utc

    def process_result_value(self, value: Any, dialect: Dialect) -> datetime | None:
        """Back to an aware datetime in UTC."""
        if value is None:
            return None
        if dialect.name == "sqlite":
            return datetime.fromisoformat(value)
        return value.astimezone(UTC)  # type: ignore[no-any-return]


class JsonBytes(sa.types.TypeDecorator[bytes]):
    """A JSON document kept letter by letter as it was encoded; bytes outside, text inside."""

    impl = sa.Text
    cache_ok = True

    def process_bind_param(self, value: bytes | None, _dialect: Dialect) -> str | None:
        """JSON is UTF-8; a NUL can only stand in it escaped, so PostgreSQL takes every one."""
        return None if value is None else value.decode()

    def process_result_value(self, value: str | None, _dialect: Dialect) -> bytes | None:
        """The bytes that were stored."""
        return None if value is None else value.encode()
