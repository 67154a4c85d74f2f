"""A disk that is really full: 503 with Retry-After, readiness red, and all well again by itself."""

import asyncio
import subprocess
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import httpx
import pytest
from running import Process
from served import VEHICLE
from stores import free_port

from service.store import keys
from service.store.database import open_store
from service.store.migration import migrate

MIB = 1024 * 1024


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    """A file system of 4 MiB of this test's own, where it may mount one."""
    folder = tmp_path / "disk"
    folder.mkdir()
    mount = ["mount", "-t", "tmpfs", "-o", "size=4m", "tmpfs", str(folder)]
    try:
        subprocess.run(mount, check=True, capture_output=True)
    except (OSError, subprocess.CalledProcessError):
        pytest.skip("only root can mount a small disk")
    try:
        yield folder
    finally:
        subprocess.run(["umount", "-l", str(folder)], check=True)


def fill(ballast: Path) -> None:
    """Take every byte that is left."""
    with ballast.open("wb", buffering=0) as file:
        for size in (MIB, 1024, 1):
            try:
                while file.write(b"x" * size) == size:
                    pass
            except OSError:
                continue


async def shop_with_key(url: str) -> str:
    await migrate(url)
    store = open_store(url)
    await store.open()
    shop = await store.create_shop("Full (invented)")
    _, token = await store.write(shop, lambda s: keys.create(s, "k", ["read", "write"], None))
    await store.close()
    return token


def make(client: httpx.Client, number: int) -> httpx.Response:
    content: dict[str, Any] = {**VEHICLE, "unit_number": str(number), "notes": "x" * 1500}
    return client.post("/v1/vehicles", json=content, headers={"Idempotency-Key": str(number)})


def units(client: httpx.Client) -> set[str]:
    found = client.get("/v1/vehicles", params={"limit": 200})
    assert found.status_code == 200, "reading goes on"
    return {item["unit_number"] for item in found.json()["items"]}


def test_a_full_disk_turns_readiness_red_and_recovers_by_itself(
    small_disk: Path, tmp_path: Path
) -> None:
    """A served process whose database lies on a disk that something else fills, and frees again."""
    url = f"sqlite:///{small_disk / 'shop.sqlite3'}"
    token = asyncio.run(shop_with_key(url))
    server = Process(tmp_path, free_port(), database_url=url)
    server.wait_until_ready()
    bearer = {"Authorization": f"Bearer {token}"}
    with httpx.Client(base_url=server.url(), headers=bearer, timeout=60) as client:
        assert make(client, 0).status_code == 201
        fill(small_disk / "ballast")
        answers = {number: make(client, number) for number in range(1, 41)}
        refused = {n: one for n, one in answers.items() if one.status_code != 201}
        assert refused
        for one in refused.values():
            assert (one.status_code, one.json()["type"]) == (503, "/problems/unavailable")
            assert int(one.headers["retry-after"]) > 0
        assert client.get("/health/ready").status_code == 503
        assert client.get("/health/live").status_code == 200
        assert units(client) == {str(n) for n in [0, *answers] if n not in refused}
        (small_disk / "ballast").unlink()
        server.wait_until_ready()
        for number in answers:
            assert make(client, number).status_code == 201
        assert units(client) == {str(n) for n in [0, *answers]}
    assert server.stop() == 0
