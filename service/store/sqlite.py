"""The embedded database: SQLite in WAL mode, one thread that writes and a few that read.

Every write of the process goes through one queue to one thread, so SQLite never sees two of them
and `database is locked` can only come from another process, which is waited for. What has queued
up while a transaction was on its way to the disk shares the next one, each piece of work behind
a savepoint: many clients then cost one flush of the disk, not many.

A unit of work is plain calls in its thread. Against a driver that hands every statement over to
a thread and back, that was 1.6 to 2.7 times as fast (one insert and five inserts a transaction).
"""

import asyncio
import queue
import sqlite3
import threading
import time
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any, TypeVar
from uuid import UUID

import sqlalchemy as sa
from sqlalchemy.engine import make_url

from service.store.database import Work
from service.store.errors import Conflict, KeyInFlight, KeyTaken, StoreUnavailable
from service.store.scope import reading, writing
from service.store.shops import add_shop, all_shops, outbox, shops_owed
from service.store.sqlite_engine import READERS, engine_of
from service.store.sqlite_keys import KeyRows

T = TypeVar("T")
OnConnection = Callable[[sa.Connection], Any]

GROUP = 64
"""At most so many pieces of work share a transaction."""
CROWD = 3
GATHER_SECONDS = 0.0005
"""After a group of a crowd the next one is given a moment to gather: the clients that were just
answered ask again, and 16 of them then share one flush of the disk where they had shared two."""


@dataclass(slots=True, eq=False)
class _Job:
    work: OnConnection
    loop: asyncio.AbstractEventLoop
    future: asyncio.Future[Any]
    result: Any = None
    error: BaseException | None = None


class SqliteStore:
    """A store in one file, for one process (or a few on one machine)."""

    def __init__(self, url: str) -> None:
        self.path = make_url(url).database or ""
        if self.path in ("", ":memory:"):
            raise ValueError("the store needs a file: write sqlite:///axlewright.sqlite3")
        self._jobs: queue.SimpleQueue[_Job | None] = queue.SimpleQueue()
        self._keys: set[tuple[UUID, str]] = set()
        self._key_rows = KeyRows(self.path)
        self._thread: threading.Thread | None = None

    async def open(self) -> None:
        """Start the writing thread and the readers."""
        if not Path(self.path).exists():
            raise StoreUnavailable(f"There is no database at {self.path}; run the migration first.")
        self._writer = engine_of(self.path, writes=True)
        self._reader = engine_of(self.path, writes=False)
        self._readers = ThreadPoolExecutor(READERS, "axlewright-read")
        self._thread = threading.Thread(target=self._serve, name="axlewright-write", daemon=True)
        self._thread.start()

    async def close(self) -> None:
        """Let the queue run dry, then close the file."""
        self._key_rows.stop()
        if self._thread is None:
            return
        self._jobs.put(None)
        await asyncio.to_thread(self._thread.join)
        await asyncio.to_thread(self._readers.shutdown)
        self._writer.dispose()
        self._reader.dispose()
        self._thread = None

    async def read(self, shop: UUID, work: Work[T]) -> T:
        """Run work in a reading thread, in one snapshot of the file."""

        return await self._look(lambda c: reading(c, shop, work))

    async def write(self, shop: UUID, work: Work[T]) -> T:
        """Queue work for the writing thread; returns when its transaction has reached the disk."""
        return await self._queue(lambda c: writing(c, shop, work))  # type: ignore[no-any-return]

    async def write_once(self, shop: UUID, key: str, work: Work[T]) -> T:
        """The same; KeyInFlight while this key's work is queued or running in this process.

        Another process on the file waits for its write lock, and then finds the answer.
        """
        if (shop, key) in self._keys:
            raise KeyInFlight
        self._keys.add((shop, key))
        try:
            return await self.write(shop, work)
        finally:
            self._keys.discard((shop, key))

    async def every_shop(self) -> list[UUID]:
        """The shops there are, oldest first."""
        return await self._look(all_shops)

    async def shops_owed(self) -> list[UUID]:
        """The shops that webhook deliveries are owed in now."""
        return await self._look(shops_owed)

    async def outbox(self) -> tuple[int, float]:
        """Webhook deliveries that have not arrived, and seconds that the most overdue one waits."""
        return await self._look(outbox)

    def gauges(self) -> dict[str, float]:
        """How busy the file's connections are, and how much waits to be written."""
        if self._thread is None:
            return {}
        pools = [self._writer.pool, self._reader.pool]
        in_use = sum(pool.checkedout() for pool in pools if isinstance(pool, sa.pool.QueuePool))
        idle = sum(pool.checkedin() for pool in pools if isinstance(pool, sa.pool.QueuePool))
        return {
            "database_connections_in_use": in_use,
            "database_connections_open": in_use + idle,
            "database_work_waiting": self._jobs.qsize(),
        }

    async def snapshot(self, shop: UUID, work: Work[T]) -> T:
        """In WAL mode every read is one snapshot of the file."""
        return await self.read(shop, work)

    async def create_shop(self, name: str, id: UUID | None = None) -> UUID:
        """Add a shop; repeating it with the same id changes nothing."""
        return await self._queue(lambda c: add_shop(c, name, id))  # type: ignore[no-any-return]

    def key_watch(self) -> KeyRows:
        """Reads the rows of keys again."""
        return self._key_rows

    async def ready(self) -> None:
        """Take the write lock, rewrite the schema's user number and commit: it must be writable."""
        await self._queue(_touch)

    async def _look(self, work: Callable[[sa.Connection], T]) -> T:
        if self._thread is None:
            raise StoreUnavailable("The store is closed.")

        def within() -> T:
            with reasons(), self._reader.begin() as connection:
                return work(connection)

        return await asyncio.get_running_loop().run_in_executor(self._readers, within)

    async def _queue(self, work: OnConnection) -> Any:
        if self._thread is None:
            raise StoreUnavailable("The store is closed.")
        loop = asyncio.get_running_loop()
        job = _Job(work, loop, loop.create_future())
        self._jobs.put(job)
        # a caller that gives up does not stop the work: others may share its transaction
        return await asyncio.shield(job.future)

    def _serve(self) -> None:
        running = True
        last = 0
        while running:
            taken = [self._jobs.get()]
            if last >= CROWD and self._jobs.qsize() + 1 < last:
                time.sleep(GATHER_SECONDS)
            while len(taken) < GROUP and not self._jobs.empty():
                taken.append(self._jobs.get())
            running = None not in taken
            jobs = [job for job in taken if job is not None]
            last = len(jobs)
            if jobs:
                self._carry_out(jobs)
                _answer(jobs)

    def _carry_out(self, jobs: list[_Job]) -> None:
        """All in one transaction; if the database fails, each again in one of its own."""
        try:
            with reasons(), self._writer.begin() as connection:
                for job in jobs:
                    _run_apart(job, connection, alone=len(jobs) == 1)
        except BaseException as error:
            for job in jobs:
                job.result, job.error = None, error
            if len(jobs) > 1:
                for job in jobs:
                    job.error = None
                    self._carry_out([job])


def _run_apart(job: _Job, connection: sa.Connection, *, alone: bool) -> None:
    """Run one piece of work so that its refusal undoes its own changes and no other's."""
    if alone:
        job.result = job.work(connection)
        return
    driver = connection.connection.dbapi_connection
    assert driver is not None
    driver.execute("SAVEPOINT job")
    try:
        job.result = job.work(connection)
    except (sa.exc.OperationalError, sqlite3.OperationalError):
        raise  # the file is at fault: the whole transaction goes
    except Exception as error:
        driver.execute("ROLLBACK TO job")
        job.error = in_own_words(error)
    driver.execute("RELEASE job")


@contextmanager
def reasons() -> Iterator[None]:
    """Turns what SQLite reports into what the store can say."""
    try:
        yield
    except Exception as error:
        own = in_own_words(error)
        if own is error:
            raise
        raise own from error


def in_own_words(error: Exception) -> Exception:
    """StoreUnavailable for a full disk, a lock or an unreadable file; Conflict for a broken rule.

    Anything else is a fault of ours and stays as it is.
    """
    cause = error.orig if isinstance(error, sa.exc.DBAPIError) else error
    if isinstance(cause, sqlite3.IntegrityError):
        if "idempotency_keys.key" in str(cause):
            return KeyTaken()
        return Conflict("It contradicts what is stored.")
    if isinstance(cause, sqlite3.OperationalError) and not _our_fault(cause):
        return StoreUnavailable()
    if isinstance(error, sa.exc.TimeoutError):
        return StoreUnavailable()
    return error


def _our_fault(cause: sqlite3.OperationalError) -> bool:
    return getattr(cause, "sqlite_errorcode", sqlite3.SQLITE_ERROR) == sqlite3.SQLITE_ERROR


def _answer(jobs: list[_Job]) -> None:
    """Wake the callers, one call into each event loop."""
    for loop in {id(job.loop): job.loop for job in jobs}.values():
        mine = [job for job in jobs if job.loop is loop]
        if not loop.is_closed():
            loop.call_soon_threadsafe(_settle, mine)


def _settle(jobs: list[_Job]) -> None:
    for job in jobs:
        if job.future.done():
            continue
        if job.error is not None:
            job.future.set_exception(job.error)
        else:
            job.future.set_result(job.result)


def _touch(connection: sa.Connection) -> None:
    version = connection.exec_driver_sql("PRAGMA user_version").scalar_one()
    connection.exec_driver_sql(f"PRAGMA user_version = {int(version)}")
