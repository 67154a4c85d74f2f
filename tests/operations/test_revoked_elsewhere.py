"""A key that one process ended computes no more through another: two real processes, a database.

With SQLite the very next request is refused. With PostgreSQL it is the first one after the notice
has come, and the very next one where no notice can come.
"""

import asyncio
import subprocess
import sys
import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import NamedTuple
from uuid import UUID

import httpx
import pytest
from running import ROOT, Process
from served import READINGS
from sqlalchemy.engine import make_url
from stores import database_of, free_port

from service.store import keys
from service.store.database import open_store
from service.store.migration import migrate
from service.store.postgres import engine_of
from service.store.postgres_keys import NAME


class Pair(NamedTuple):
    """Two processes on one database, and a shop's key that may do everything."""

    url: str
    shop: UUID
    admin: str
    first: Process
    second: Process

    def new_key(self) -> tuple[str, str]:
        """Id and token of a new key that may compute, made through the first process."""
        content = {"name": "till", "scopes": ["compute"]}
        made = httpx.post(self.first.url("/v1/keys"), json=content, headers=bearer(self.admin))
        assert made.status_code == 201, made.text
        return made.json()["key"]["id"], made.json()["token"]

    def revoke(self, id: str) -> None:
        """End a key through the first process."""
        gone = httpx.delete(self.first.url(f"/v1/keys/{id}"), headers=bearer(self.admin))
        assert gone.status_code == 204

    def is_file(self) -> bool:
        return make_url(self.url).get_backend_name() == "sqlite"


def bearer(token: str) -> dict[str, str]:
    return {"Authorization": f"Bearer {token}"}


def solved(process: Process, token: str) -> int:
    """The status of a solution."""
    url = process.url("/v1/solutions")
    return httpx.post(url, json=READINGS, headers=bearer(token)).status_code


def connected(pair: Pair) -> None:
    """Have both processes open the connections that they may need at a time."""
    asked = [process.url("/health/ready") for process in (pair.first, pair.second)] * 6
    with ThreadPoolExecutor(len(asked)) as threads:
        assert {answer.status_code for answer in threads.map(httpx.get, asked)} == {200}


def refused(pair: Pair, token: str) -> bool:
    """Whether the second process refuses the key: at once, or as soon as it was told."""
    until = time.monotonic() + (0 if pair.is_file() else 2)
    while (status := solved(pair.second, token)) == 200 and time.monotonic() < until:
        time.sleep(0.01)
    return status == 401


async def prepared(url: str) -> tuple[UUID, str]:
    await migrate(url)
    store = open_store(url)
    await store.open()
    shop = await store.create_shop("Example Frame and Axle (invented)")
    scopes = ["compute", "read", "write", "admin"]
    _, token = await store.write(shop, lambda scope: keys.create(scope, "all", scopes, None))
    await store.close()
    return shop, token


@pytest.fixture(scope="module", params=["sqlite", "postgresql"])
def url(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """A database for two processes, once of each kind."""
    if request.param == "sqlite":
        yield f"sqlite:///{tmp_path_factory.mktemp('two') / 'shared.sqlite3'}"
    else:
        yield from database_of(request.getfixturevalue("postgres_url"))


@pytest.fixture(scope="module")
def pair(url: str, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Pair]:
    shop, admin = asyncio.run(prepared(url))
    folder = tmp_path_factory.mktemp("served")
    more = {"database_url": url, "compute_open": "false"}
    both = [Process(folder, free_port(), **more) for _ in range(2)]
    try:
        for process in both:
            process.wait_until_ready()
            assert solved(process, admin) == 200
        yield Pair(url, shop, admin, *both)
    finally:
        codes = [process.stop() for process in both]
    assert codes == [0, 0]


def test_a_key_revoked_through_one_computes_no_more_through_the_other(pair: Pair) -> None:
    id, token = pair.new_key()
    assert [solved(pair.second, token) for _ in range(3)] == [200, 200, 200]
    pair.revoke(id)
    assert refused(pair, token)


def test_a_key_replaced_through_one_computes_no_more_through_the_other(pair: Pair) -> None:
    id, token = pair.new_key()
    assert solved(pair.second, token) == 200
    url = pair.first.url(f"/v1/keys/{id}/rotations")
    made = httpx.post(url, json={"overlap_minutes": 0}, headers=bearer(pair.admin))
    assert made.status_code == 201
    assert refused(pair, token)
    assert solved(pair.second, made.json()["token"]) == 200


def test_a_key_revoked_at_the_command_line_computes_no_more(pair: Pair, tmp_path: Path) -> None:
    id, token = pair.new_key()
    assert [solved(one, token) for one in (pair.first, pair.second)] == [200, 200]
    command = [sys.executable, "-m", "service", "keys", "revoke", id, "--shop", str(pair.shop)]
    environment = {"AXLEWRIGHT_DATABASE_URL": pair.url, "PYTHONPATH": str(ROOT)}
    subprocess.run(command, env=environment, cwd=tmp_path, check=True, capture_output=True)
    assert refused(pair, token)
    assert refused(pair._replace(second=pair.first), token)


def answered(pair: Pair, token: str) -> int:
    """What the second process says, which may be 503 while its connections are all in use."""
    for _ in range(100):
        status = solved(pair.second, token)
        if status != 503:
            break
        time.sleep(0.05)
    return status


def test_a_process_whose_listening_is_cut_looks_at_every_key(pair: Pair) -> None:
    """New connections are refused meanwhile, so that it cannot listen again; its others live on."""
    if pair.is_file():
        pytest.skip("nothing listens where the file is looked at")
    id, token = pair.new_key()
    assert solved(pair.second, token) == 200
    connected(pair)
    name = make_url(pair.url).database
    outside = make_url(pair.url).set(database="postgres").render_as_string(hide_password=False)

    async def cut() -> int:
        engine = engine_of(outside, bare=True)
        async with engine.connect() as connection:
            await connection.exec_driver_sql(f"ALTER DATABASE {name} ALLOW_CONNECTIONS false")
            query = (
                "SELECT count(pg_terminate_backend(pid, 5000)) FROM pg_stat_activity "
                f"WHERE datname = '{name}' AND application_name = '{NAME}'"
            )
            ended = (await connection.exec_driver_sql(query)).scalar_one()
        await engine.dispose()
        return int(ended)

    async def allow() -> None:
        engine = engine_of(outside, bare=True)
        async with engine.connect() as connection:
            await connection.exec_driver_sql(f"ALTER DATABASE {name} ALLOW_CONNECTIONS true")
        await engine.dispose()

    try:
        assert asyncio.run(cut()) == 2
        pair.revoke(id)
        assert answered(pair, token) == 401
        assert answered(pair, pair.admin) == 200
        assert httpx.get(pair.second.url("/health/ready")).status_code == 200
    finally:
        asyncio.run(allow())
    again, token = pair.new_key()
    assert solved(pair.second, token) == 200
    pair.revoke(again)
    assert refused(pair, token)
