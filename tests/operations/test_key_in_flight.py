"""One `Idempotency-Key` at two replicas at once: 409 while the first works, then its answer.

That is what draft-ietf-httpapi-idempotency-key asks of a request that comes again meanwhile.
"""

import asyncio
from collections.abc import Iterator
from typing import Any
from uuid import UUID

import httpx
import pytest
from running import Process
from served import VEHICLE
from stores import free_port, holding, waiting_for_a_lock

from service.store import keys
from service.store.database import open_store

pytestmark = pytest.mark.anyio


@pytest.fixture
def replicas(migrated_postgres_url: str, tmp_path: Any) -> Iterator[list[Process]]:
    both = [
        Process(tmp_path, free_port(), database_url=migrated_postgres_url, compute_open="true")
        for _ in range(2)
    ]
    try:
        for process in both:
            process.wait_until_ready()
        yield both
    finally:
        for process in both:
            process.stop()


async def key_of_a_shop(url: str) -> tuple[UUID, str]:
    store = open_store(url)
    shop = await store.create_shop("Example Frame and Axle (invented)")
    _, token = await store.write(shop, lambda s: keys.create(s, "k", ["read", "write"], None))
    await store.close()
    return shop, token


async def test_a_key_in_flight_at_one_replica_is_a_conflict_at_the_other(
    replicas: list[Process], migrated_postgres_url: str
) -> None:
    shop, token = await key_of_a_shop(migrated_postgres_url)
    headers = {"Authorization": f"Bearer {token}", "Idempotency-Key": "from the yard"}
    first, second = (process.url("/v1/vehicles") for process in replicas)
    async with httpx.AsyncClient(headers=headers, timeout=30) as client:
        async with holding(migrated_postgres_url, shop):
            slow = asyncio.create_task(client.post(first, json=VEHICLE))
            await waiting_for_a_lock(migrated_postgres_url)
            refused = await client.post(second, json=VEHICLE)
            assert refused.status_code == 409
            assert refused.json()["type"] == "/problems/idempotency-key-in-flight"
            assert refused.headers["retry-after"] == "1"
            assert not slow.done()
        made = await slow
        assert made.status_code == 201
        again = await client.post(second, json=VEHICLE)
        assert (again.status_code, again.content) == (201, made.content)
        assert again.headers["idempotent-replayed"] == "true"
        assert len((await client.get(first)).json()["items"]) == 1
