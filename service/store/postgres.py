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

import asyncpg  # type: ignore[import-untyped]
import sqlalchemy as sa
from sqlalchemy.engine import AdaptedConnection, make_url
from sqlalchemy.ext.asyncio import AsyncEngine, create_async_engine

from service.store.database import Work
from service.store.errors import Conflict, KeyInFlight, KeyTaken, NotMigrated, StoreUnavailable
from service.store.postgres_keys import KeyNotices
from service.store.scope import reading, writing
from service.store.shops import add_shop, all_shops, outbox, shops_owed

T = TypeVar("T")

ROLE = "axlewright_shop"
"""Role that is subject to the policies; taken on when the login is above them."""

EVERY_SHOP = "set_config('axlewright.every_shop', 'on', true)"

ENDS_IDLE = "set_config('idle_in_transaction_session_timeout', '60s', true)"

POOL = 10
TRIES = 4
_UNAVAILABLE = ("08", "28", "3D", "53", "55", "57", "58", "25006", "25P03")
"""Gone, not letting us in (28, 3D, 55), full, shutting down, broken, read-only, out of patience."""
_NOT_MIGRATED = ("42P01", "42703")
"""No such table, no such column."""
_NO_SUCH_VALUE = "22023"
_AGAIN = ("40001", "40P01", "23505")
_IN_FLIGHT = "22P02"
_OUTDATED = "cached statement plan is invalid"
_GONE = ("08", "57P01", "57P02")
_LOST = (asyncpg.InterfaceError, asyncpg.InternalClientError)
"""InternalClientError: between the server's farewell and the end of the connection."""
DRIVER_ERRORS = (asyncpg.PostgresError, *_LOST, OSError)


class PostgresStore:
    """A store that many processes on many machines may share."""

    def __init__(self, url: str, pool: int = POOL) -> None:
        self._engine = engine_of(url, bare=True, pool=pool)
        self._pool = pool
        self._waiting = 0
        self._role: str | None = None
        self._keys: set[tuple[UUID, str]] = set()
        self._notices = KeyNotices(lambda: engine_of(url, bare=True, pool=1))

    async def open(self) -> None:
        """Connect once; a server that is away now is met again by the first unit of work."""
        with suppress(StoreUnavailable):
            await self.ready()

    async def close(self) -> None:
        """Close every connection."""
        await self._notices.stop()
        await self._engine.dispose()

    async def read(self, shop: UUID, work: Work[T]) -> T:
        """Run work in one transaction that cannot write."""
        start = f"BEGIN READ ONLY; SELECT {_own(shop)}"
        return await self._carry_out(start, lambda c: reading(c, shop, work))

    async def write(self, shop: UUID, work: Work[T]) -> T:
        """Run work and commit it."""
        return await self._carry_out(_begin(shop), lambda c: writing(c, shop, work))

    async def write_once(self, shop: UUID, key: str, work: Work[T]) -> T:
        """The same; KeyInFlight while this key's work goes on, in this process or another."""
        if (shop, key) in self._keys:
            raise KeyInFlight
        self._keys.add((shop, key))
        try:
            start = f"{_begin(shop)}, {_only_one(shop, key)}"
            return await self._carry_out(start, lambda c: writing(c, shop, work))
        finally:
            self._keys.discard((shop, key))

    async def every_shop(self) -> list[UUID]:
        """The shops there are, oldest first."""
        return await self._carry_out(f"BEGIN READ ONLY; SELECT {EVERY_SHOP}", all_shops)

    async def shops_owed(self) -> list[UUID]:
        """The shops that webhook deliveries are owed in now."""
        return await self._carry_out(f"BEGIN READ ONLY; SELECT {EVERY_SHOP}", shops_owed)

    async def outbox(self) -> tuple[int, float]:
        """Webhook deliveries that have not arrived, and seconds that the most overdue one waits."""
        return await self._carry_out(f"BEGIN READ ONLY; SELECT {EVERY_SHOP}", outbox)

    def gauges(self) -> dict[str, float]:
        """How busy the pool is."""
        pool = self._engine.pool
        assert isinstance(pool, sa.pool.QueuePool)
        in_use = pool.checkedout()
        return {
            "database_connections_in_use": in_use,
            "database_connections_open": in_use + pool.checkedin(),
            "database_work_waiting": max(0, self._waiting - in_use),
        }

    async def snapshot(self, shop: UUID, work: Work[T]) -> T:
        """All queries of a REPEATABLE READ transaction see the moment of its first."""
        start = f"BEGIN ISOLATION LEVEL REPEATABLE READ READ ONLY; SELECT {_own(shop)}"
        return await self._carry_out(start, lambda c: reading(c, shop, work))

    async def create_shop(self, name: str, id: UUID | None = None) -> UUID:
        """Add a shop; repeating it with the same id changes nothing."""
        start = f"BEGIN; SELECT {EVERY_SHOP}"
        return await self._carry_out(start, lambda c: add_shop(c, name, id))

    def key_watch(self) -> KeyNotices:
        """Listens to what the database tells of keys."""
        return self._notices

    async def ready(self) -> None:
        """A transaction that gets a number shows that the server takes writes."""
        await self._carry_out("BEGIN; SELECT pg_current_xact_id()::text", lambda _: None)

    async def _carry_out(self, start: str, work: Callable[[sa.Connection], T]) -> T:
        """One transaction; begun again when two writers collide or a pooled connection was dead."""
        self._waiting += 1
        try:
            return await self._tried(start, work)
        finally:
            self._waiting -= 1

    async def _tried(self, start: str, work: Callable[[sa.Connection], T]) -> T:
        for rest in reversed(range(TRIES + self._pool)):
            try:
                async with self._engine.connect() as connection:
                    return await connection.run_sync(self._transaction, start, work)
            except DeadConnectionError as error:
                if not rest:
                    raise StoreUnavailable from error
            except Exception as error:
                if rest > self._pool and _worth_another_try(error):
                    continue
                own = in_own_words(error)
                if own is error:
                    raise
                raise own from error
        raise AssertionError("the last try returns or raises")

    def _transaction(
        self, connection: sa.Connection, start: str, work: Callable[[sa.Connection], T]
    ) -> T:
        """Begin, name the shop and step down in one message to the server; work; commit.

        SQLAlchemy would send BEGIN by itself. The engine is in autocommit mode for that reason.
        """
        raw = connection.connection.dbapi_connection
        assert isinstance(raw, AdaptedConnection)
        try:
            role = self._role_to_take(raw)
            raw.run_async(lambda driver: driver.execute(f"{start}{role}"))
        except DRIVER_ERRORS as error:
            state = str(getattr(error, "sqlstate", None) or "08")
            if state == _IN_FLIGHT:
                _undo(connection, raw)
                raise KeyInFlight from None
            connection.invalidate()
            if state.startswith(_GONE):
                raise DeadConnectionError from error
            raise
        try:
            result = work(connection)
            raw.run_async(lambda driver: driver.execute("COMMIT"))
        except BaseException as error:
            _undo(connection, raw)
            if _OUTDATED in str(error):
                connection.invalidate()
                raise DeadConnectionError from error
            raise
        return result

    def _role_to_take(self, raw: AdaptedConnection) -> str:
        """What a login above the policies says to step down; nothing for a plain one."""
        if self._role is None:
            rule = "rolsuper OR rolbypassrls"
            query = f"SELECT {rule} FROM pg_roles WHERE rolname = current_user"  # noqa: S608
            above = raw.run_async(lambda driver: driver.fetchval(query))
            self._role = f", set_config('role', '{ROLE}', true)" if above else ""
        return self._role


def _undo(connection: sa.Connection, raw: AdaptedConnection) -> None:
    if connection.invalidated:
        return
    try:
        raw.run_async(lambda driver: driver.execute("ROLLBACK"))
    except DRIVER_ERRORS:
        connection.invalidate()


def _own(shop: UUID) -> str:
    return f"set_config('axlewright.shop_id', '{UUID(int=shop.int)}', true)"


def _begin(shop: UUID) -> str:
    """Begin to write, with an end for the locks of a machine that is lost amid its work.

    Without it the server would wait for such a machine for as long as TCP does, two hours.
    """
    return f"BEGIN; SELECT {_own(shop)}, {ENDS_IDLE}"


def _only_one(shop: UUID, key: str) -> str:
    """What fails in the transaction that is not the only one to work under an idempotency key.

    It rides in the message that begins the transaction, of which asyncpg tells no result but an
    error. The lock ends with the transaction.
    """
    digest = blake2b(shop.bytes + key.encode(), digest_size=8).digest()
    number = int.from_bytes(digest, "big", signed=True)
    taken = f"pg_try_advisory_xact_lock({number})"
    return f"(CASE WHEN {taken} THEN 'on' ELSE 'not the only one with this key' END)::boolean"


class DeadConnectionError(Exception):
    """A connection of the pool had died before anything was asked of it; another may live.

    So had what was prepared on one, when tables were changed by a migration.
    """


def _worth_another_try(error: Exception) -> bool:
    """Two writers collided; what they did was undone."""
    return state_of(error) in _AGAIN and not _is_taken_key(error)


def state_of(error: Exception) -> str:
    """The five-letter SQLSTATE, or an empty text when the server said none."""
    cause = error.orig if isinstance(error, sa.exc.DBAPIError) else error
    return str(getattr(cause, "sqlstate", None) or "")


def _is_taken_key(error: Exception) -> bool:
    return state_of(error) == "23505" and "pk_idempotency_keys" in str(error)


def in_own_words(error: Exception) -> Exception:
    """StoreUnavailable when the server is gone, full, shutting down or to be migrated; Conflict.

    Anything else is a fault of ours and stays as it is.
    """
    if isinstance(error, OSError | sa.exc.TimeoutError | sa.exc.InterfaceError):
        return StoreUnavailable()
    if _is_taken_key(error):
        return KeyTaken()
    state = state_of(error)
    if isinstance(error, sa.exc.DBAPIError) and error.connection_invalidated:
        return StoreUnavailable()
    if isinstance(error, _LOST):
        return StoreUnavailable()
    if state.startswith(_UNAVAILABLE) or state in _AGAIN[:2]:
        return StoreUnavailable()
    if state in _NOT_MIGRATED or (state == _NO_SUCH_VALUE and ROLE in str(error)):
        return NotMigrated()
    if state.startswith("23"):
        return Conflict("It contradicts what is stored.")
    return error


def engine_of(url: str, *, bare: bool = False, pool: int = POOL) -> AsyncEngine:
    """The asyncio engine of a `postgresql://` URL; it may carry libpq's `sslmode`.

    A `bare` one begins no transaction of its own.
    """
    parts = make_url(url).set(drivername="postgresql+asyncpg")
    mode = parts.query.get("sslmode")
    if mode is not None:
        parts = parts.difference_update_query(["sslmode"]).update_query_dict({"ssl": str(mode)})
    level = {"isolation_level": "AUTOCOMMIT"} if bare else {}
    return create_async_engine(
        parts,
        pool_size=pool,
        max_overflow=0,
        pool_timeout=10,
        hide_parameters=True,  # what a shop stores is not for the log
        **level,
    )
