"""Changes of keys in PostgreSQL: a trigger tells of them, a connection for that alone listens.

The message leaves with the commit that revokes, replaces or changes a key, whoever does it, and is
here within milliseconds. Nothing is known while that connection is down. One that has died without
a word, behind a network that swallows packets, is found out by a question every second.
"""

import asyncio
import logging
from collections.abc import Callable, Hashable
from contextlib import suppress

import asyncpg  # type: ignore[import-untyped]
import sqlalchemy as sa
from sqlalchemy.ext.asyncio import AsyncConnection, AsyncEngine

from service.store.background import Background
from service.store.keys import Token

CHANNEL = "axlewright_keys"
"""The name that the trigger of revision 0004 calls."""
NAME = "axlewright keys"
"""What `pg_stat_activity` calls the connection."""
BEAT_SECONDS = 1.0
PATIENCE_SECONDS = 2.0
PAUSE_SECONDS = 0.5
_LOST = (
    asyncpg.PostgresError,
    asyncpg.InterfaceError,
    asyncpg.InternalClientError,
    OSError,
    sa.exc.SQLAlchemyError,
)

_log = logging.getLogger("service")


class KeyNotices:
    """The `KeyWatch` of a server: the mark is one number for all keys, raised by each notice."""

    def __init__(self, engine: Callable[[], AsyncEngine]) -> None:
        self._engine = engine
        self._number = 0
        self._listening = False
        self._stirred = asyncio.Event()
        self._background = Background()

    def start(self) -> None:
        """Begin to listen, and again whenever that ends; keeps nobody waiting."""
        self._background.start(self._run())

    async def stop(self) -> None:
        """Listen no more."""
        await self._background.stop()

    def mark(self, _token: Token) -> Hashable | None:
        """The number of notices until now; None while nobody listens."""
        return self._number if self._listening else None

    async def _run(self) -> None:
        engine = self._engine()
        told = False
        try:
            while True:
                try:
                    async with asyncio.timeout(10):
                        connection = await engine.connect()
                    told = False
                    await self._listen(connection)
                except _LOST as error:
                    if not told:
                        _log.warning(
                            "changes of keys are not heard of, each is looked at: %s", error
                        )
                        told = True
                await asyncio.sleep(PAUSE_SECONDS)
        finally:
            await engine.dispose()

    async def _listen(self, connection: AsyncConnection) -> None:
        """Listen on a connection until it is lost; raises what it was lost by."""
        try:
            driver = (await connection.get_raw_connection()).driver_connection
            assert driver is not None
            self._stirred.clear()
            driver.add_termination_listener(self._lose)
            async with asyncio.timeout(PATIENCE_SECONDS):
                await driver.execute(f"SET application_name = '{NAME}'")
                await driver.add_listener(CHANNEL, self._hear)
            self._number += 1  # what was looked at before may have changed unheard
            self._listening = True
            while True:
                with suppress(TimeoutError):
                    await asyncio.wait_for(self._stirred.wait(), BEAT_SECONDS)
                async with asyncio.timeout(PATIENCE_SECONDS):
                    await driver.execute("SELECT 1")
        finally:
            self._listening = False
            await connection.invalidate()  # as it listens, no other may use it
            await connection.close()

    def _hear(self, *_notice: object) -> None:
        self._number += 1

    def _lose(self, _connection: object) -> None:
        self._listening = False
        self._stirred.set()
