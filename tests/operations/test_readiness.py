"""`/health/ready` with real databases: it must be there, writable and at the newest revision."""

import asyncio
from collections.abc import Iterator
from pathlib import Path

import httpx
import pytest
from asking import answer_of
from running import serving
from stores import database_of

from service.app import create_app
from service.settings import Settings
from service.store.migration import downgrade, migrate

pytestmark = pytest.mark.anyio


async def test_a_fresh_sqlite_is_migrated_at_the_start_and_ready(tmp_path: Path) -> None:
    async with (
        serving(Settings(database_url=f"sqlite:///{tmp_path}/new.sqlite3")) as running,
        httpx.AsyncClient() as client,
    ):
        answer = await client.get(f"http://127.0.0.1:{running.port}/health/ready")
    assert (answer.status_code, answer.json()["checks"]) == (
        200,
        ["database", "migrations", "accepting"],
    )


@pytest.fixture
def empty_postgres_url(postgres_url: str) -> Iterator[str]:
    """URL of a PostgreSQL database of this test alone, with nothing in it."""
    yield from database_of(postgres_url)


async def test_a_postgres_that_was_not_migrated_is_not_ready(empty_postgres_url: str) -> None:
    await migrate(empty_postgres_url)
    await downgrade(empty_postgres_url, "-1")
    async with (
        serving(Settings(database_url=empty_postgres_url)) as running,
        httpx.AsyncClient(timeout=60) as client,
    ):
        url = f"http://127.0.0.1:{running.port}/health/"
        before = await client.get(url + "ready")
        assert (await client.get(url + "live")).status_code == 200
        await migrate(empty_postgres_url)
        after = await client.get(url + "ready")
    assert before.status_code == 503
    assert [error["pointer"] for error in before.json()["errors"]] == ["migrations"]
    assert "revision" not in before.text
    assert after.status_code == 200


async def test_a_store_that_does_not_answer_is_not_ready(sqlite_url: str) -> None:
    async with (
        serving(Settings(database_url=sqlite_url)) as running,
        httpx.AsyncClient(timeout=30) as client,
    ):
        url = f"http://127.0.0.1:{running.port}/health/ready"
        assert (await client.get(url)).status_code == 200
        store = running.door.watch.store
        assert store is not None
        await store.close()
        answer = await client.get(url)
    assert answer.status_code == 503
    assert [error["pointer"] for error in answer.json()["errors"]] == ["database"]


@pytest.mark.parametrize(
    ("given", "open_without_key"),
    [
        ({}, True),
        ({"host": "0.0.0.0"}, False),
        ({"trusted_proxies": ("127.0.0.0/8",)}, False),
        ({"host": "0.0.0.0", "compute_open": True}, True),
    ],
)
async def test_keys_are_asked_for_wherever_others_can_reach_the_service(
    sqlite_url: str, given: dict[str, object], open_without_key: bool
) -> None:
    settings = Settings(database_url=sqlite_url, **given)  # type: ignore[arg-type]
    answer = await answer_of(create_app(settings), "GET", "/v1/target-sets")
    assert answer.status == (200 if open_without_key else 401)
    assert (settings.rate("rate_per_address") is None) == (
        settings.host == "127.0.0.1" and not settings.trusted_proxies
    )


async def test_several_starts_on_one_fresh_sqlite_migrate_it_once(tmp_path: Path) -> None:
    url = f"sqlite:///{tmp_path}/new.sqlite3"
    revisions = await asyncio.gather(*[migrate(url) for _ in range(4)])
    assert len(set(revisions)) == 1
