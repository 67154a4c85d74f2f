"""`POST /v1/solutions/batch` as lines, and the turns that it gives to others."""

import asyncio
import json
from typing import Any

import pytest
from api.batching import APP, LINES, PATH, SAMPLE, batch, slug, stream
from asking import JSON_HEADERS, ask, scope_of
from running import serving

from service.api import solution_batches
from service.contract.batch_reader import LONGEST_VEHICLE, NDJSON
from service.settings import Settings


def test_lines_come_back_as_lines_and_empty_ones_are_not_counted() -> None:
    good = json.dumps(SAMPLE).encode()
    found = stream(b"\n" + good + b"\r\n \n", b"not json\n", good[:40], good[40:])
    assert [item["index"] for item in found] == [0, 1, 2]
    assert [slug(item) for item in found] == [None, "malformed-json", None]


def test_a_line_that_is_too_long_is_passed_over_and_the_next_is_answered() -> None:
    good = json.dumps(SAMPLE).encode()
    part = b"x" * (LONGEST_VEHICLE // 2 + 1)
    found = stream(good + b"\n" + part, part, b"x\n" + good, b"\n")
    assert [slug(item) for item in found] == [None, "body-too-large", None]
    longest = good + b" " * (LONGEST_VEHICLE - len(good))
    assert [slug(item) for item in stream(longest + b"\n")] == [None]


def test_a_stream_without_a_vehicle_is_refused() -> None:
    for body in (b"", b"\n\n"):
        answer = ask(APP, "POST", PATH, body, LINES)
        assert (answer.status, answer.slug) == (422, "contract-broken")


def test_a_stream_over_its_limit_ends_with_that_problem(monkeypatch: pytest.MonkeyPatch) -> None:
    good = json.dumps(SAMPLE).encode() + b"\n"
    part = b" " * (4 * 1024 * 1024)
    found = stream(good, *[part] * 9)
    assert [slug(item) for item in found] == [None, "body-too-large"]


def test_who_asks_for_json_gets_json_of_lines_and_who_asks_for_lines_gets_lines_of_json() -> None:
    good = json.dumps(SAMPLE).encode()
    as_json = (*LINES, (b"accept", b"application/json"))
    whole = ask(APP, "POST", PATH, [good + b"\n", good], as_json)
    assert whole.headers["content-type"] == "application/json"
    answer = batch([SAMPLE] * 2, (*JSON_HEADERS, (b"accept", NDJSON.encode())))
    assert answer.headers["content-type"] == NDJSON
    lines = [json.loads(line) for line in answer.body.splitlines()]
    assert lines == whole.json["items"]


class Caller:
    """A client of the application that sends when it is told to and keeps what came back."""

    def __init__(self) -> None:
        self.came: asyncio.Queue[Any] = asyncio.Queue()
        self.messages: asyncio.Queue[Any] = asyncio.Queue()
        scope = scope_of("POST", PATH, LINES)
        self.task = asyncio.create_task(APP(scope, self.messages.get, self.came.put))

    def send(self, body: bytes, more: bool = True) -> None:
        self.messages.put_nowait({"type": "http.request", "body": body, "more_body": more})

    async def line(self) -> Any:
        """The next line, waited for."""
        while True:
            message = await asyncio.wait_for(self.came.get(), 30)
            if message.get("body"):
                return json.loads(message["body"])


def test_a_line_is_answered_before_the_next_is_sent() -> None:
    async def talk() -> None:
        caller = Caller()
        for index in range(3):
            caller.send(json.dumps(SAMPLE).encode() + b"\n")
            item = await caller.line()
            assert (item["index"], slug(item)) == (index, None)
        caller.send(b"", more=False)
        await asyncio.wait_for(caller.task, 30)

    asyncio.run(talk())


def test_work_stops_when_the_client_has_left(monkeypatch: pytest.MonkeyPatch) -> None:
    """Whether it leaves with its body half sent or while it waits for answers."""
    monkeypatch.setattr(solution_batches, "PATIENCE", 0.0)

    async def leave(more: bool) -> int:
        caller = Caller()
        caller.send((json.dumps(SAMPLE).encode() + b"\n") * 2000, more)
        await caller.line()
        caller.messages.put_nowait({"type": "http.disconnect"})
        await asyncio.wait_for(caller.task, 30)
        return caller.came.qsize()

    for more in (True, False):
        assert asyncio.run(leave(more)) < 200


def test_others_have_their_turn_between_any_two_steps_of_a_batch(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """No step is more than one vehicle read, one pattern solved or one answer written."""
    monkeypatch.setattr(solution_batches, "PATIENCE", -1.0)
    turns = 0

    async def tick() -> None:
        nonlocal turns
        while True:
            turns += 1
            await asyncio.sleep(0)

    async def ticked() -> None:
        ticking = asyncio.create_task(tick())
        caller = Caller()
        caller.send((json.dumps(SAMPLE).encode() + b"\n") * 300, more=False)
        await caller.task
        ticking.cancel()

    asyncio.run(ticked())
    assert turns > 2 * 300 + 3


class Clock:
    """Each look at it is a millisecond after the one before."""

    def __init__(self) -> None:
        self.now = 0.0

    def perf_counter(self) -> float:
        self.now += 0.001
        return self.now


def test_groups_that_are_quick_do_not_keep_others_from_their_turn(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """The time since the last turn goes on from group to group."""
    monkeypatch.setattr(solution_batches, "AT_ONCE", 2)
    monkeypatch.setattr(solution_batches, "time", Clock())
    turns = 0
    inner = asyncio.sleep

    async def turn(seconds: float) -> None:
        nonlocal turns
        turns += 1
        await inner(seconds)

    monkeypatch.setattr(solution_batches.asyncio, "sleep", turn)
    assert batch([SAMPLE] * 40).status == 200
    # each vehicle is two steps of a millisecond, each group of two vehicles one more
    assert turns >= 100 // (round(solution_batches.PATIENCE * 1e3) + 2)


def test_a_batch_solves_at_most_two_hundred_vehicles_in_one_step(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    sizes = []
    inner = solution_batches.batch_items

    def measured(texts: Any, *more: Any) -> Any:
        sizes.append(len(texts))
        return inner(texts, *more)

    monkeypatch.setattr(solution_batches, "batch_items", measured)
    batch([17] * 250)
    assert sizes == [200, 50]


def test_the_answers_to_a_large_batch_of_lines_begin_before_its_body_ends_over_a_socket(
    sqlite_url: str,
) -> None:
    """A real server, and a client that writes its lines one by one."""

    async def talk() -> None:
        async with serving(Settings(database_url=sqlite_url)) as running:
            reader, writer = await asyncio.open_connection("127.0.0.1", running.port)
            writer.write(
                f"POST {PATH} HTTP/1.1\r\nHost: here\r\nContent-Type: {NDJSON}\r\n"
                "Transfer-Encoding: chunked\r\n\r\n".encode()
            )
            line = json.dumps(SAMPLE).encode() + b"\n"
            head = b""
            for index in range(3):
                writer.write(b"%x\r\n%s\r\n" % (len(line), line))
                if not head:
                    head = await asyncio.wait_for(reader.readuntil(b"\r\n\r\n"), 30)
                    assert b" 200 OK" in head
                size = int(await asyncio.wait_for(reader.readline(), 30), 16)
                item = json.loads(await reader.readexactly(size))
                await reader.readline()
                assert (item["index"], slug(item)) == (index, None)
            writer.write(b"0\r\n\r\n")
            assert await asyncio.wait_for(reader.readline(), 30) == b"0\r\n"
            writer.close()

    asyncio.run(talk())


def test_a_client_that_sends_everything_before_it_reads_gets_its_answers(
    sqlite_url: str,
) -> None:
    """Sixteen megabytes of answers, more than the buffers between the two hold."""
    count = 2000
    line = json.dumps({**SAMPLE, "running": False}).encode() + b"\n"

    async def talk() -> None:
        async with serving(Settings(database_url=sqlite_url)) as running:
            reader, writer = await asyncio.open_connection("127.0.0.1", running.port)
            head = (
                f"POST {PATH} HTTP/1.1\r\nHost: here\r\nContent-Type: {NDJSON}\r\n"
                f"Content-Length: {count * len(line)}\r\nConnection: close\r\n\r\n"
            )
            writer.write(head.encode())
            for _ in range(count):
                writer.write(line)
                await asyncio.wait_for(writer.drain(), 30)
            answer = await asyncio.wait_for(reader.read(), 60)
            writer.close()
            assert answer.count(b'{"index":') == count

    asyncio.run(talk())
