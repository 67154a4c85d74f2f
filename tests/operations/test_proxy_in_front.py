"""The proxy of docker/nginx.conf, a real one, in front of two real servers."""

import asyncio
import os
import shutil
import socket
import subprocess
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path
from typing import Any

import httpx
import pytest
from running import Running, serving
from served import READINGS
from stores import free_port

from service.settings import Settings

pytestmark = pytest.mark.anyio

ROOT = Path(__file__).resolve().parents[2]
MISSING = "no nginx: install it (Debian: apt install nginx-light)"


@asynccontextmanager
async def proxied(folder: Path, replicas: list[int]) -> AsyncIterator[str]:
    """Address of the proxy in front of servers on these ports."""
    nginx = shutil.which("nginx", path=os.environ.get("PATH", "") + ":/usr/sbin")
    if nginx is None:
        if os.environ.get("CI") == "true":
            pytest.fail(MISSING)
        pytest.skip(MISSING)
    port = free_port()
    text = (ROOT / "docker" / "nginx.conf").read_text("utf-8")
    for address, replica in zip(("10.89.41.11:8410", "10.89.41.12:8410"), replicas, strict=True):
        text = text.replace(address, f"127.0.0.1:{replica}")
    text = text.replace("listen 8080", f"listen 127.0.0.1:{port}")
    text = text.replace("worker_processes auto;", "worker_processes 1;")
    for place in ("/var/cache/nginx/", "/run/"):
        text = text.replace(place, f"{folder}/")
    if os.geteuid() == 0:
        text = f"user root;\n{text}"
    (folder / "nginx.conf").write_text(text)
    options = ["-e", "stderr", "-p", str(folder), "-c", str(folder / "nginx.conf")]
    process = subprocess.Popen([nginx, *options, "-g", "daemon off;"])
    try:
        for _ in range(200):
            with socket.socket() as one:
                if one.connect_ex(("127.0.0.1", port)) == 0:
                    break
            await asyncio.sleep(0.05)
        yield f"http://127.0.0.1:{port}"
    finally:
        process.terminate()
        process.wait(30)


def behind(url: str, **more: Any) -> Settings:
    given = {"compute_open": True, "trusted_proxies": ("127.0.0.0/8",), **more}
    return Settings(database_url=url, **given)


async def ended(running: Running) -> None:
    """Stop a server as a signal would, and wait until nobody is connected to it."""
    running.server.should_exit = True
    await asyncio.sleep(0.5)
    while running.server.server_state.connections:
        await asyncio.sleep(0.05)


async def test_a_client_cannot_say_whose_request_it_is_nor_see_the_metrics(
    sqlite_url: str, tmp_path: Path
) -> None:
    settings = behind(sqlite_url, rate_per_address="3/3600")
    async with (
        serving(settings) as one,
        proxied(tmp_path, [one.port, one.port]) as base,
        httpx.AsyncClient(base_url=base, timeout=60) as client,
    ):
        answers = [
            await client.get("/v1/target-sets", headers={"X-Forwarded-For": f"203.0.113.{number}"})
            for number in range(5)
        ]
        hidden = await client.get("/metrics")
    assert [answer.status_code for answer in answers] == [200, 200, 200, 429, 429]
    assert hidden.status_code == 404


async def test_while_a_replica_stops_every_request_is_answered(
    sqlite_url: str, tmp_path: Path
) -> None:
    settings = behind(sqlite_url, rate_per_address="off")
    async with (
        serving(settings) as stays,
        serving(settings) as goes,
        proxied(tmp_path, [stays.port, goes.port]) as base,
        httpx.AsyncClient(base_url=base, timeout=60) as client,
    ):
        statuses: list[int] = []

        async def ask_on(times: int) -> None:
            for _ in range(times):
                answer = await client.get("/v1/target-sets")
                statuses.append(answer.status_code)
                made = await client.post("/v1/solutions", json=READINGS)
                statuses.append(made.status_code)

        await ask_on(5)
        goes.door.watch.drain()
        await ask_on(10)
        await asyncio.gather(ended(goes), ask_on(20))
        await ask_on(5)
    assert set(statuses) == {200}
    assert len(statuses) == 80
