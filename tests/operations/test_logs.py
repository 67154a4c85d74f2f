"""The log: one JSON object a line, one line a request, cheap, and nothing secret in any."""

import asyncio
import json
import logging
import os
import threading
from collections.abc import Iterator
from typing import Any

import pytest
from asking import answer_of, scope_of
from hypothesis import given
from hypothesis import strategies as st
from served import VEHICLE, client_of

from service.api.lines import MOST, PIECE, LineWriter, _pieces
from service.api.logs import JsonHandler
from service.app import create_app
from service.settings import Settings, secrets_in
from service.store.database import open_store

pytestmark = pytest.mark.anyio

UUID_SENT = b"0190f0c0-1111-8000-8000-00000000abcd"


class Sink:
    """A stream that keeps what it is given."""

    def __init__(self) -> None:
        self.data = b""

    def write(self, piece: bytes) -> int:
        self.data += piece
        return len(piece)


class Logged:
    """An application on a store of its own, and the lines it has written."""

    def __init__(self, url: str) -> None:
        self.app = create_app(Settings(database_url=url))
        self.sink = Sink()
        self.writer = LineWriter(self.sink)
        self.app.watch.log_to(self.writer)

    def lines(self) -> list[dict[str, Any]]:
        self.writer.close()
        return [json.loads(line) for line in self.sink.data.splitlines()]


@pytest.fixture
def logged(sqlite_url: str) -> Iterator[Logged]:
    one = Logged(sqlite_url)
    yield one
    one.writer.close()


async def test_each_request_writes_one_line_that_says_what_became_of_it(logged: Logged) -> None:
    await answer_of(logged.app, "GET", "/health/live", headers=[(b"request-id", UUID_SENT)])
    await answer_of(logged.app, "GET", "/nothing")
    good, lost = logged.lines()
    assert good | {"time": "", "duration_ms": 0} == {
        "time": "",
        "level": "info",
        "event": "request",
        "request_id": UUID_SENT.decode(),
        "operation": "getLiveness",
        "method": "GET",
        "status": 200,
        "path": "/health/live",
        "duration_ms": 0,
        "client": "127.0.0.1",
    }
    assert 0 < good["duration_ms"] < 60_000
    assert (lost["operation"], lost["status"], lost["path"]) == ("none", 404, "/nothing")


async def test_the_line_has_the_id_that_the_answer_has(logged: Logged) -> None:
    answer = await answer_of(logged.app, "GET", "/v1/target-sets")
    [line] = logged.lines()
    assert line["request_id"] == answer.headers["request-id"]


@pytest.mark.parametrize("path", ['/"a\nb\r\x00\x1b[31m"', "/ü/%", "/\\u0022", "/" + "x" * 5000])
async def test_no_path_breaks_its_line(logged: Logged, path: str) -> None:
    await answer_of(logged.app, "GET", path)
    [line] = logged.lines()
    assert line["path"] == path[:1000]


async def test_a_made_up_method_is_not_written_as_one(logged: Logged) -> None:
    await answer_of(logged.app, "X" * 500, "/nothing")
    [line] = logged.lines()
    assert line["method"] == "other"


async def test_a_head_is_written_as_one(logged: Logged) -> None:
    await answer_of(logged.app, "HEAD", "/health/live")
    await answer_of(logged.app, "HEAD", "/nothing")
    assert [line["method"] for line in logged.lines()] == ["HEAD", "HEAD"]


async def test_a_line_names_the_shop_and_the_key_that_asked(sqlite_url: str) -> None:
    logged, store = Logged(sqlite_url), open_store(sqlite_url)
    await store.open()
    logged.app.app.state["store"] = store
    async with client_of(logged.app, store) as client:
        await client.made("/v1/vehicles", VEHICLE)
        shop, token = client.shop, client.headers["authorization"]  # type: ignore[attr-defined]
    await store.close()
    [line] = [line for line in logged.lines() if line["operation"] == "createVehicle"]
    assert line["shop"] == str(shop)
    assert len(line["key"]) == 36
    assert token.removeprefix("Bearer ") not in logged.sink.data.decode()
    assert line["status"] == 201


async def test_a_shop_that_was_only_claimed_is_not_written(sqlite_url: str) -> None:
    logged, store = Logged(sqlite_url), open_store(sqlite_url)
    await store.open()
    logged.app.app.state["store"] = store
    async with client_of(logged.app, store) as client:
        wrong = client.headers["authorization"][:-3] + "AAA"
        answer = await client.get("/v1/vehicles", headers={"Authorization": wrong})
        early = await client.get("/v1/vehicles?limit=x", headers={"Authorization": wrong})
    await store.close()
    assert (answer.status_code, early.status_code) == (401, 400)
    lines = [line for line in logged.lines() if line["operation"] == "listVehicles"]
    assert [line["status"] for line in lines] == [401, 400]
    assert not any("shop" in line for line in lines)
    assert wrong.encode() not in logged.sink.data


async def test_a_request_that_was_cut_off_is_logged_with_status_0(logged: Logged) -> None:
    async def never() -> Any:
        await asyncio.Event().wait()

    async def send(_message: Any) -> None:
        return None

    headers = [(b"content-type", b"application/json"), (b"content-length", b"9")]
    scope = scope_of("POST", "/v1/solutions", headers)
    task = asyncio.create_task(logged.app(scope, never, send))
    await asyncio.sleep(0.1)
    task.cancel()
    await asyncio.wait([task])
    [line] = logged.lines()
    assert (line["operation"], line["status"]) == ("solveVehicle", 0)


SECRETS = [
    "axw_0190f0c0.abcdefgh.ijklmnop_-",
    "whsec_C2FVsBQIhrscChlQIMV+b5sSYspob7oD",
    "Bearer abcdefghijklmnop",
    "tarragon2/%",
    "tarragon2%2F%25",
]


@pytest.mark.parametrize("secret", SECRETS)
def test_no_secret_is_written_whoever_logs_it(secret: str) -> None:
    url = "postgresql://axlewright:tarragon2%2F%25@db/axlewright"
    sink = Sink()
    writer = LineWriter(sink)
    handler = JsonHandler(writer, secrets_in(Settings(database_url=url)))
    try:
        raise RuntimeError(f"refused {secret} at once")
    except RuntimeError as error:
        record = logging.LogRecord("x", 40, "", 0, "with %s", (secret,), None)
        record.exc_info = (type(error), error, error.__traceback__)
        handler.emit(record)
    writer.close()
    line = json.loads(sink.data)
    assert secret not in sink.data.decode()
    assert "***" in line["message"]
    assert "***" in line["exception"]
    assert line["level"] == "error"


@given(st.lists(st.binary(min_size=1, max_size=5000).map(lambda b: b.replace(b"\n", b" "))))
def test_lines_go_out_whole_in_pieces_that_a_pipe_takes_in_one(lines: list[bytes]) -> None:
    pieces = list(_pieces(lines, PIECE))
    assert b"".join(pieces) == b"".join(line + b"\n" for line in lines)
    assert all(piece.endswith(b"\n") for piece in pieces)
    assert all(len(piece) <= PIECE or piece.count(b"\n") == 1 for piece in pieces)


def test_lines_of_many_threads_all_arrive() -> None:
    sink = Sink()
    writer = LineWriter(sink)
    threads = [
        threading.Thread(target=lambda n=n: [writer.write(b"%d-%d" % (n, i)) for i in range(500)])
        for n in range(4)
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    writer.close()
    assert len(set(sink.data.split())) == 2000


def test_a_reader_that_stopped_reading_never_stops_the_service() -> None:
    reading, writing = os.pipe()
    with os.fdopen(writing, "wb", buffering=0) as target:
        writer = LineWriter(target)
        for _ in range(5):
            for _ in range(MOST):
                writer.write(b"x" * 100)
        assert writer.dropped > 0
        assert writer.waiting <= MOST
        os.close(reading)  # the blocked thread gets an error and ends
        writer.close()


async def test_a_failing_store_is_logged_with_its_reason_and_answered_without(
    sqlite_url: str, caplog: pytest.LogCaptureFixture
) -> None:
    app, store = create_app(Settings()), open_store(sqlite_url)
    await store.open()
    app.app.state["store"] = store
    async with client_of(app, store) as client:
        await store.close()
        answer = await client.get("/v1/vehicles")
    assert answer.status_code == 503
    assert "closed" not in answer.text
    assert "unavailable of request" in caplog.text
