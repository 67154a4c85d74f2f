"""PostgreSQL over asyncpg: one pool a process, row-level security as a second wall.

asyncpg and psycopg 3 wrote at the same rate here (about 780 commits a second one after another),
but a page of 50 rows came 2.5 times as fast from asyncpg (about 900 against 360 a second), and
five clients together wrote a third more.
"""

from collections.abc import Callable
from contextlib import suppress
from hashlib import blake2b
from typing import TypeVar
from uuid import UUID

import sqlalchemy as sa
from sqlalchemy.engine import make_url
from sqlalchemy.ext.asyncio import AsyncEngine, create_async_engine

from service.store.database import Work
from service.store.errors import Conflict, KeyInFlight, StoreUnavailable
from service.store.scope import ShopScope
from service.store.shops import add_shop, all_shops, shops_owed

T = TypeVar("T")

ROLE = "axlewright_shop"
"""Role that is subject to the policies; taken on when the login is above them."""

OWN_SHOP = "set_config('axlewright.shop_id', $1, true)"
EVERY_SHOP = "set_config('axlewright.every_shop', 'on', true)"

POOL = 10
TRIES = 4
_UNAVAILABLE = ("08", "53", "57", "58", "25006")
_AGAIN = ("40001", "40P01", "23505")


class PostgresStore:
    """A store that many processes on many machines may share."""

    def __init__(self, url: str) -> None:
        self._engine = engine_of(url)
        self._role: str | None = None
        self._keys: set[tuple[UUID, str]] = set()

    async def open(self) -> None:
        """Connect once; a server that is away now is met again by the first unit of work."""
        with suppress(StoreUnavailable):
            await self._carry_out(self._role_to_take)

    async def close(self) -> None:
        """Close every connection."""
        await self._engine.dispose()

    async def read(self, shop: UUID, work: Work[T]) -> T:
        """Run work in one transaction that cannot write."""

        def within(connection: sa.Connection) -> T:
            self._enter(connection, str(shop))
            return work(ShopScope(connection, shop))

        return await self._carry_out(within)

    async def write(self, shop: UUID, work: Work[T]) -> T:
        """Run work and commit it."""
        return await self._carry_out(lambda c: self._work_in(c, shop, work))

    async def write_once(self, shop: UUID, key: str, work: Work[T]) -> T:
        """The same; KeyInFlight while this key's work goes on here or in another process.

        The advisory lock only makes the answer prompt. On an engine without such locks the
        primary key of the kept answers still lets one of two through.
        """
        if (shop, key) in self._keys:
            raise KeyInFlight
        self._keys.add((shop, key))
        number = int.from_bytes(
            blake2b(shop.bytes + key.encode(), digest_size=8).digest(), signed=True
        )
        try:
            return await self._carry_out(lambda c: self._work_in(c, shop, work, number))
        finally:
            self._keys.discard((shop, key))

    async def every_shop(self) -> list[UUID]:
        """The shops there are, oldest first."""
        return await self._across(all_shops)

    async def shops_owed(self) -> list[UUID]:
        """The shops that webhook deliveries are owed in now."""
        return await self._across(shops_owed)

    async def snapshot(self, shop: UUID, work: Work[T]) -> T:
        """All queries of a REPEATABLE READ transaction see the moment of its first."""

        def within(connection: sa.Connection) -> T:
            connection.exec_driver_sql("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ")
            self._enter(connection, str(shop))
            return work(ShopScope(connection, shop))

        return await self._carry_out(within)

    async def create_shop(self, name: str, id: UUID | None = None) -> UUID:
        """Add a shop; repeating it with the same id changes nothing."""
        return await self._across(lambda connection: add_shop(connection, name, id))

    async def ready(self) -> None:
        """A transaction that gets a number shows that the server takes writes."""
        await self._carry_out(lambda c: c.exec_driver_sql("SELECT pg_current_xact_id()::text"))

    def _work_in(
        self, connection: sa.Connection, shop: UUID, work: Work[T], lock: int | None = None
    ) -> T:
        self._enter(connection, str(shop), lock)
        scope = ShopScope(connection, shop)
        result = work(scope)
        scope.finish()
        return result

    def _enter(self, connection: sa.Connection, shop: str, lock: int | None = None) -> None:
        """Name the shop to the policies, and step down to the role that is subject to them."""
        setting = f"{OWN_SHOP}{self._role_to_take(connection)}"
        if lock is None:
            connection.exec_driver_sql(f"SELECT {setting}", (shop,))
            return
        row = connection.exec_driver_sql(
            f"SELECT pg_try_advisory_xact_lock($2), {setting}", (shop, lock)
        ).one()
        if not row[0]:
            raise KeyInFlight

    def _role_to_take(self, connection: sa.Connection) -> str:
        """What a login above the policies says to step down; nothing for a plain one."""
        if self._role is None:
            rule = "rolsuper OR rolbypassrls"
            query = f"SELECT {rule} FROM pg_roles WHERE rolname = current_user"  # noqa: S608
            above = connection.exec_driver_sql(query).scalar()
            self._role = f", set_config('role', '{ROLE}', true)" if above else ""
        return self._role

    async def _across(self, work: Callable[[sa.Connection], T]) -> T:
        """Run work on the few tables whose policies let a sweep look across shops."""

        def within(connection: sa.Connection) -> T:
            connection.exec_driver_sql(f"SELECT {EVERY_SHOP}{self._role_to_take(connection)}")
            return work(connection)

        return await self._carry_out(within)

    async def _carry_out(self, work: Callable[[sa.Connection], T]) -> T:
        for rest in reversed(range(TRIES)):
            try:
                async with self._engine.begin() as connection:
                    return await connection.run_sync(work)
            except Exception as error:
                if not (rest and _worth_another_try(error)):
                    own = in_own_words(error)
                    if own is error:
                        raise
                    raise own from error
        raise AssertionError("the last try returns or raises")


def _worth_another_try(error: Exception) -> bool:
    """Two writers collided, or a pooled connection had died before anything was asked of it."""
    if not isinstance(error, sa.exc.DBAPIError):
        return False
    if error.connection_invalidated:
        return "set_config" in (error.statement or "")
    return state_of(error) in _AGAIN


def state_of(error: sa.exc.DBAPIError) -> str:
    """The five-letter SQLSTATE, or an empty text when the server said none."""
    return str(getattr(error.orig, "sqlstate", None) or "")


def in_own_words(error: Exception) -> Exception:
    """StoreUnavailable when the server is gone, full or shutting down; Conflict for a broken rule.

    Anything else is a fault of ours and stays as it is.
    """
    if isinstance(error, OSError | sa.exc.TimeoutError):
        return StoreUnavailable()
    if not isinstance(error, sa.exc.DBAPIError):
        return error
    state = state_of(error)
    if error.connection_invalidated or state.startswith(_UNAVAILABLE) or state in _AGAIN[:2]:
        return StoreUnavailable()
    if isinstance(error, sa.exc.InterfaceError):
        return StoreUnavailable()
    if state.startswith("23"):
        return Conflict("It contradicts what is stored.")
    return error


def engine_of(url: str) -> AsyncEngine:
    """The asyncio engine of a `postgresql://` URL; it may carry libpq's `sslmode`."""
    parts = make_url(url).set(drivername="postgresql+asyncpg")
    mode = parts.query.get("sslmode")
    if mode is not None:
        parts = parts.difference_update_query(["sslmode"]).update_query_dict({"ssl": str(mode)})
    return create_async_engine(parts, pool_size=POOL, max_overflow=0, pool_timeout=10)
