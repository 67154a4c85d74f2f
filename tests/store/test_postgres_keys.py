"""What PostgreSQL tells of keys, and what is known while it tells nothing."""

import asyncio
import tempfile
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from pathlib import Path
from typing import Any, NamedTuple
from uuid import UUID

import pytest
from sqlalchemy.engine import URL, make_url

from service.store import keys
from service.store.keys import Token
from service.store.postgres import PostgresStore, engine_of
from service.store.postgres_keys import KeyNotices

pytestmark = pytest.mark.anyio


class Watched(NamedTuple):
    """A store, a key of its shop, and what is heard of keys."""

    store: PostgresStore
    shop: UUID
    token: Token

    def mark(self) -> Any:
        return self.store.key_watch().mark(self.token)


async def soon(true: Callable[[], bool], seconds: float = 5.0) -> bool:
    """Whether something comes true within a time."""
    for _ in range(int(seconds * 100)):
        if true():
            return True
        await asyncio.sleep(0.01)
    return False


@pytest.fixture
async def watched(migrated_postgres_url: str, anyio_backend: str) -> AsyncIterator[Watched]:
    store = PostgresStore(migrated_postgres_url)
    shop = await store.create_shop("Example Frame and Axle (invented)")
    _, text = await store.write(shop, lambda scope: keys.create(scope, "till", ["compute"], None))
    token = keys.read_token(text)
    assert token is not None
    yield Watched(store, shop, token)
    await store.close()


async def test_nothing_is_known_before_anybody_listens(watched: Watched) -> None:
    assert watched.mark() is None


async def test_a_key_that_is_revoked_is_told_of_and_one_that_is_used_is_not(
    watched: Watched,
) -> None:
    watch = watched.store.key_watch()
    watch.start()
    assert await soon(lambda: watched.mark() is not None)
    before = watched.mark()
    key = watched.token.key
    await watched.store.write(watched.shop, lambda scope: keys.note_use(scope, key))
    await watched.store.write(watched.shop, lambda scope: keys.create(scope, "b", ["read"], None))
    await asyncio.sleep(0.2)
    assert watched.mark() == before
    await watched.store.write(watched.shop, lambda scope: keys.revoke(scope, key))
    assert await soon(lambda: watched.mark() not in (before, None))


async def test_a_key_that_is_deleted_by_hand_is_told_of(
    watched: Watched, migrated_postgres_url: str
) -> None:
    watched.store.key_watch().start()
    assert await soon(lambda: watched.mark() is not None)
    before = watched.mark()
    engine = engine_of(migrated_postgres_url)
    async with engine.begin() as connection:
        await connection.exec_driver_sql("SET LOCAL row_security = off")
        gone = f"DELETE FROM api_keys WHERE id = '{watched.token.key}'"
        assert (await connection.exec_driver_sql(gone)).rowcount == 1
    await engine.dispose()
    assert await soon(lambda: watched.mark() not in (before, None))


async def test_nothing_is_known_once_nobody_listens_any_more(watched: Watched) -> None:
    watched.store.key_watch().start()
    assert await soon(lambda: watched.mark() is not None)
    await watched.store.key_watch().stop()
    assert watched.mark() is None


class Line:
    """A way to the server that can be made to swallow what is said on it."""

    dead = False

    def __init__(self, url: URL) -> None:
        self._host = str(url.query.get("host") or url.host)
        self._port = url.port or 5432
        self.folder = Path(tempfile.mkdtemp(prefix="axw-line-"))

    @asynccontextmanager
    async def open(self) -> AsyncIterator[None]:
        server = await asyncio.start_unix_server(self._join, self.folder / ".s.PGSQL.5432")
        try:
            yield
        finally:
            server.close()

    async def _join(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        if self._host.startswith("/"):
            there = await asyncio.open_unix_connection(f"{self._host}/.s.PGSQL.{self._port}")
        else:
            there = await asyncio.open_connection(self._host, self._port)
        await asyncio.gather(self._carry(reader, there[1]), self._carry(there[0], writer))

    async def _carry(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        while data := await reader.read(65536):
            if not self.dead:
                writer.write(data)
        writer.close()


async def test_a_network_that_swallows_everything_is_found_out(watched: Watched) -> None:
    """No end of the connection is told, so that only a question without an answer shows it."""
    url = make_url(watched.store._engine.url.render_as_string(hide_password=False))
    line = Line(url)
    through = url.set(host=None, port=None, query={"host": str(line.folder)})
    text = through.set(drivername="postgresql").render_as_string(hide_password=False)
    async with line.open():
        notices = KeyNotices(lambda: engine_of(text, bare=True, pool=1))
        notices.start()
        assert await soon(lambda: notices.mark(watched.token) is not None)
        line.dead = True
        assert await soon(lambda: notices.mark(watched.token) is None, 10)
        line.dead = False
        assert await soon(lambda: notices.mark(watched.token) is not None, 20)
        await notices.stop()
