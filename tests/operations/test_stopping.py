"""Stopping and sharing a port, with real processes and real signals."""

import asyncio
import os
import signal
import socket
import sqlite3
import threading
import time
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import httpx
import pytest
from prometheus_client.parser import text_string_to_metric_families
from running import Process
from served import READINGS
from stores import free_port


def until(holds: Callable[[], bool], seconds: float = 120.0) -> None:
    """Wait for something that comes by itself, however slow the machine is."""
    end = time.monotonic() + seconds
    while not holds():
        assert time.monotonic() < end
        time.sleep(0.05)


class Load:
    """Clients that ask until nobody takes their connection, and what became of each request."""

    def __init__(self, process: Process, clients: int = 6) -> None:
        self.answered: list[str] = []
        self._process = process
        self._threads = [threading.Thread(target=self._run) for _ in range(clients)]
        for thread in self._threads:
            thread.start()

    def _run(self) -> None:
        end = time.monotonic() + 200
        with httpx.Client(timeout=60) as client:
            while time.monotonic() < end:
                try:
                    answer = client.post(self._process.url("/v1/solutions"), json=READINGS)
                except httpx.ConnectError:
                    return
                except httpx.TransportError:
                    # A connection on which nothing had been asked when the server closed it: no
                    # request of it was ever read, which the log proves.
                    return
                assert answer.status_code == 200
                self.answered.append(answer.headers["request-id"])

    def wait(self) -> None:
        for thread in self._threads:
            thread.join()


def solved(process: Process) -> set[str]:
    """Requests that the log says were answered."""
    return {
        line["request_id"]
        for line in process.lines
        if line.get("operation") == "solveVehicle" and line["status"] == 200
    }


@pytest.mark.parametrize("processes", ["1", "2"])
def test_a_stop_under_load_loses_no_request_that_was_begun(tmp_path: Path, processes: str) -> None:
    process = Process(tmp_path, free_port(), processes=processes)
    process.wait_until_ready()
    load = Load(process)
    until(lambda: len(load.answered) > 20)
    assert process.stop() == 0, process.told()
    load.wait()
    assert set(load.answered) == solved(process)


def test_before_it_stops_it_says_not_ready_and_closes_connections(tmp_path: Path) -> None:
    process = Process(tmp_path, free_port(), drain_seconds="600")
    process.wait_until_ready()
    with httpx.Client() as client:
        client.get(process.url("/health/live"))
        process.popen.send_signal(signal.SIGTERM)
        time.sleep(1.0)
        live = client.get(process.url("/health/live"))
        ready = client.get(process.url("/health/ready"))
    assert (live.status_code, ready.status_code) == (200, 503)
    assert live.headers["connection"] == "close"
    assert [error["pointer"] for error in ready.json()["errors"]] == ["accepting"]
    assert process.stop(signal.SIGINT) == 0
    told = [
        line for line in process.lines if "readiness check accepting" in line.get("message", "")
    ]
    assert [line["level"] for line in told] == ["warning"]
    assert not [line for line in process.lines if line["level"] == "error"]


async def half_sent(port: int) -> tuple[asyncio.StreamReader, asyncio.StreamWriter]:
    reader, writer = await asyncio.open_connection("127.0.0.1", port)
    head = b"POST /v1/solutions HTTP/1.1\r\nHost: a\r\nContent-Type: application/json\r\n"
    writer.write(head + b"Content-Length: 2\r\n\r\n{")
    await writer.drain()
    return reader, writer


def test_a_request_that_has_begun_is_finished_after_the_signal(tmp_path: Path) -> None:
    process = Process(tmp_path, free_port())
    process.wait_until_ready()

    async def run() -> bytes:
        reader, writer = await half_sent(process.port)
        await asyncio.sleep(0.3)
        process.popen.send_signal(signal.SIGTERM)
        await asyncio.sleep(1.5)
        writer.write(b"}")
        answer = await asyncio.wait_for(reader.read(), 30)
        writer.close()
        return answer

    assert asyncio.run(run()).startswith(b"HTTP/1.1 422 ")
    assert process.stop() == 0


def test_a_request_that_never_ends_does_not_keep_the_process(tmp_path: Path) -> None:
    process = Process(tmp_path, free_port(), finish_seconds="0.5", body_seconds="600")
    process.wait_until_ready()

    async def run() -> None:
        _, writer = await half_sent(process.port)
        await asyncio.sleep(0.3)
        await asyncio.to_thread(process.stop)
        writer.close()

    begun = time.monotonic()
    asyncio.run(run())
    assert process.popen.returncode == 0
    assert time.monotonic() - begun < 60
    assert [line["status"] for line in process.lines if "path" in line][-1] == 0


def test_processes_share_a_port_and_one_that_dies_is_replaced(tmp_path: Path) -> None:
    process = Process(tmp_path, free_port(), processes="2")
    process.wait_until_ready()
    first = children(process.popen.pid)
    assert len(first) == 2
    with httpx.Client(headers={"Connection": "close"}) as client:
        for _ in range(40):
            assert client.get(process.url("/v1/target-sets")).status_code == 200
        until(lambda: counted(client, process) == 40)
        time.sleep(2.5)  # each process tells once a second what it has counted
        os.kill(first[0], signal.SIGKILL)
        until(lambda: len(set(children(process.popen.pid)) - {first[0]}) == 2)
        process.wait_until_ready()
        assert counted(client, process) == 40
    assert "ended (-9)" in process.told()
    assert process.stop() == 0
    assert children(process.popen.pid) == []


def counted(client: httpx.Client, process: Process) -> float:
    """Requests for target sets that any process of the port has counted."""
    return sum(
        sample.value
        for family in text_string_to_metric_families(client.get(process.url("/metrics")).text)
        for sample in family.samples
        if sample.name == "axlewright_requests_total"
        and sample.labels["operation"] == "listTargetSets"
    )


def children(parent: int) -> list[int]:
    path = Path(f"/proc/{parent}/task/{parent}/children")
    return [int(one) for one in path.read_text().split()] if path.exists() else []


def test_processes_that_cannot_start_end_the_whole(tmp_path: Path) -> None:
    """Here because a later version has migrated the database to what this one does not know."""
    with closing(sqlite3.connect(tmp_path / "served.sqlite3")) as connection, connection:
        connection.execute("CREATE TABLE alembic_version (version_num VARCHAR(32) NOT NULL)")
        connection.execute("INSERT INTO alembic_version VALUES ('later')")
    process = Process(tmp_path, free_port(), processes="2")
    assert process.popen.wait(90) == 3


def test_a_port_that_is_taken_is_refused_by_name_and_reason(tmp_path: Path) -> None:
    with socket.socket() as held:
        held.bind(("127.0.0.1", 0))
        held.listen()
        for processes in ("1", "2"):
            process = Process(tmp_path, held.getsockname()[1], processes=processes)
            assert process.popen.wait(60) == 2
            time.sleep(0.2)
            assert "AXLEWRIGHT_PORT: cannot listen on 127.0.0.1 port" in process.told()


def test_ctrl_c_stops_at_once(tmp_path: Path) -> None:
    process = Process(tmp_path, free_port(), drain_seconds="600")
    process.wait_until_ready()
    assert process.stop(signal.SIGINT) == 0
