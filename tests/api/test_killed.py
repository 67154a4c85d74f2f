"""The server is killed with SIGKILL under load, again and again; clients retry with their keys.

At the end every acknowledged write is there once, nothing is there twice, nothing is half there.
Three kills on each database in the usual run, fifty behind the marker `long`.
"""

import asyncio
import itertools
import os
import signal
import subprocess
import sys
import time
from pathlib import Path
from typing import Any
from uuid import UUID

import httpx
import msgspec
import pytest
from served import ROUND, VEHICLE
from stores import free_port

from service.store import events, keys
from service.store.database import open_store
from service.store.scope import ShopScope
from service.store.takeout import lines_of

pytestmark = pytest.mark.anyio

CLIENTS = 6
ALIVE_SECONDS = 0.4


class Server:
    """The service in a process of its own, to be killed."""

    def __init__(self, url: str) -> None:
        quiet = {"AXLEWRIGHT_REQUEST_LOG": "false"}
        self.environment = {**os.environ, **quiet, "AXLEWRIGHT_DATABASE_URL": url}
        self.port = free_port()
        self.process: subprocess.Popen[bytes] | None = None

    async def start(self) -> None:
        command = [sys.executable, "-m", "service", "serve", "--port", str(self.port)]
        self.process = subprocess.Popen(
            command, env=self.environment, cwd=Path(__file__).parents[2]
        )
        async with httpx.AsyncClient() as client:
            for _ in range(900):
                try:
                    answer = await client.get(f"http://127.0.0.1:{self.port}/health/ready")
                    if answer.status_code == 200:
                        return
                except httpx.TransportError:
                    pass
                await asyncio.sleep(0.1)
        raise AssertionError("the server did not start")

    def kill(self) -> None:
        assert self.process is not None
        self.process.send_signal(signal.SIGKILL)
        self.process.wait()


class Writer:
    """A client that makes one vehicle after the other and never gives up on one."""

    def __init__(self, number: int, port: int, token: str) -> None:
        self.number = number
        self.base = f"http://127.0.0.1:{port}"
        self.headers = {"Authorization": f"Bearer {token}"}
        self.acknowledged: dict[str, UUID] = {}
        self.begun = 0
        self.replayed = 0

    async def run(self, stop: asyncio.Event) -> None:
        for turn in itertools.count():
            if stop.is_set():
                return
            self.begun += 1
            await self._make(f"{self.number}-{turn}")

    async def _make(self, key: str) -> None:
        content = {**VEHICLE, "unit_number": key}
        while True:
            try:
                async with httpx.AsyncClient(base_url=self.base, headers=self.headers) as client:
                    answer = await client.post(
                        "/v1/vehicles", json=content, headers={"Idempotency-Key": key}
                    )
            except httpx.TransportError:
                await asyncio.sleep(0.05)
                continue
            if answer.status_code == 201:
                self.acknowledged[key] = UUID(answer.json()["id"])
                self.replayed += "idempotent-replayed" in answer.headers
                return
            assert answer.status_code in (409, 503), answer.text
            await asyncio.sleep(0.05)


async def killed_and_checked(url: str, kills: int) -> None:
    store = open_store(url)
    await store.open()
    shop = await store.create_shop("Killed (invented)")
    _, token = await store.write(shop, lambda s: keys.create(s, "k", ["write"], None))
    server = Server(url)
    writers = [Writer(number, server.port, token) for number in range(CLIENTS)]
    stop = asyncio.Event()
    await server.start()
    tasks = [asyncio.create_task(writer.run(stop)) for writer in writers]
    for _ in range(kills):
        await asyncio.sleep(ALIVE_SECONDS)
        server.kill()
        await server.start()
    await asyncio.sleep(ALIVE_SECONDS)
    stop.set()
    await asyncio.wait_for(asyncio.gather(*tasks), 60)
    server.kill()
    acknowledged = {key: id for writer in writers for key, id in writer.acknowledged.items()}
    assert len(acknowledged) == sum(writer.begun for writer in writers) > kills
    found = await store.read(shop, stored)
    assert found["vehicles"] == acknowledged
    assert sorted(found["announced"]) == sorted(acknowledged.values())
    assert found["sequences"] == list(range(1, len(acknowledged) + 1))
    await store.close()


def stored(scope: ShopScope) -> dict[str, Any]:
    """Vehicles by unit number (a second one would be seen by the count), and what was told."""
    rows = [msgspec.json.decode(line) for line in lines_of(scope)]
    made = [row["row"] for row in rows if row.get("table") == "vehicles"]
    told = events.after(scope, 0, 1_000_000)
    vehicles = {row["unit_number"]: UUID(row["id"]) for row in made}
    assert len(vehicles) == len(made)
    return {
        "vehicles": vehicles,
        "announced": [UUID(event.subject.removeprefix("vehicle/")) for event in told],
        "sequences": [event.sequence for event in told],
    }


async def test_three_kills_lose_and_double_nothing(database_url: str) -> None:
    await killed_and_checked(database_url, 3)


@pytest.mark.long
async def test_fifty_kills_lose_and_double_nothing(database_url: str) -> None:
    started = time.monotonic()
    await killed_and_checked(database_url, 50)
    print(f"50 kills in {time.monotonic() - started:.0f} s")


async def test_a_round_is_stored_whole_or_not_at_all(sqlite_url: str) -> None:
    """A kill amid many clients' rounds leaves each with its event, or leaves neither."""
    store = open_store(sqlite_url)
    await store.open()
    shop = await store.create_shop("Killed (invented)")
    _, token = await store.write(shop, lambda s: keys.create(s, "k", ["write"], None))
    server = Server(sqlite_url)
    await server.start()
    base, headers = f"http://127.0.0.1:{server.port}", {"Authorization": f"Bearer {token}"}
    async with httpx.AsyncClient(base_url=base, headers=headers) as client:
        made = await client.post(
            "/v1/vehicles", json=VEHICLE, headers={"Idempotency-Key": "vehicle"}
        )
        opened = await client.post(
            "/v1/visits",
            json={"vehicle_id": made.json()["id"]},
            headers={"Idempotency-Key": "visit"},
        )
        path = f"/v1/visits/{opened.json()['id']}/rounds"
        posts = [
            client.post(path, json=ROUND, headers={"Idempotency-Key": f"round-{n}"})
            for n in range(40)
        ]
        tasks = [asyncio.create_task(post) for post in posts]
        await asyncio.wait(tasks, return_when=asyncio.FIRST_COMPLETED)
        server.kill()
        answers = await asyncio.gather(*tasks, return_exceptions=True)
    known = {a.json()["id"] for a in answers if isinstance(a, httpx.Response)}

    def look(scope: ShopScope) -> tuple[set[str], set[str]]:
        rows = [msgspec.json.decode(line) for line in lines_of(scope)]
        kept = {row["row"]["id"] for row in rows if row.get("table") == "rounds"}
        told = {e.subject.partition("/")[2] for e in events.after(scope, 0, 1000)}
        return kept, told

    kept, told = await store.read(shop, look)
    assert known <= kept
    assert kept == told - {made.json()["id"], opened.json()["id"]}
    await store.close()
