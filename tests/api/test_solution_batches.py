"""`POST /v1/solutions/batch`: many vehicles, each answered for itself, as one body or as lines."""

import asyncio
import copy
import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import msgspec
import pytest
from asking import JSON_HEADERS, Answer, ask, scope_of
from running import serving
from simulator import fleet, noisy, request, seeded, stated

from service.api import solution_batches
from service.app import create_app
from service.contract import batch_reader
from service.contract.batch_reader import LONGEST_VEHICLE, NDJSON
from service.settings import Settings

EXAMPLES = Path(__file__).resolve().parents[2] / "openapi" / "examples"
SAMPLE: dict[str, Any] = json.loads((EXAMPLES / "solution-request.json").read_text("utf-8"))
TANDEM: dict[str, Any] = json.loads(
    (EXAMPLES / "solution-request.tandem-out-of-line.json").read_text("utf-8")
)
PATH = "/v1/solutions/batch"
LINES = ((b"content-type", NDJSON.encode()),)
APP = create_app()


def solve(body: bytes) -> Answer:
    return ask(APP, "POST", "/v1/solutions", body)


def batch(items: list[Any], headers: Any = JSON_HEADERS) -> Answer:
    """Send a batch as one JSON body."""
    return ask(APP, "POST", PATH, json.dumps({"items": items}).encode(), headers)


def stream(*parts: bytes, accept: bytes = b"*/*") -> list[dict[str, Any]]:
    """Send lines in parts and read the lines that come back."""
    answer = ask(APP, "POST", PATH, list(parts), (*LINES, (b"accept", accept)))
    assert answer.status == 200, answer.body
    assert answer.headers["content-type"] == NDJSON
    assert answer.body.endswith(b"\n")
    return [json.loads(line) for line in answer.body.splitlines()]


def slug(item: dict[str, Any]) -> str | None:
    """Kind of an item's problem, None for a solution."""
    assert (item["solution"] is None) != (item["problem"] is None)
    return item["problem"] and item["problem"]["type"].removeprefix("/problems/")


def check_alike(one: Any, other: Any, path: str = "") -> None:
    """The same answer, its numbers to 1e-12."""
    if isinstance(one, dict):
        assert one.keys() == other.keys(), path
        for name, value in one.items():
            check_alike(value, other[name], f"{path}/{name}")
    elif isinstance(one, list):
        assert len(one) == len(other), path
        for place, (left, right) in enumerate(zip(one, other, strict=True)):
            check_alike(left, right, f"{path}/{place}")
    elif isinstance(one, float):
        assert other == pytest.approx(one, rel=1e-12, abs=1.1e-12), path
    else:
        assert one == other, path


def simulated(designs: int, each: int) -> Iterator[dict[str, Any]]:
    """Noisy vehicles of many patterns, `each` of one."""
    dice = seeded(301)
    for number, case in enumerate(fleet(seeded(300), designs=designs, each=each)):
        readings = [noisy(stated(reading), dice) for reading in case.readings]
        yield request(case.vehicle, readings, ("mm", "in", "cm")[number % 3])


def test_vehicles_of_many_patterns_get_the_answers_that_each_gets_by_itself() -> None:
    items = [*simulated(designs=12, each=20), *[SAMPLE] * 20, *[TANDEM] * 20]
    seeded(302).shuffle(items)
    answer = batch(items)
    assert answer.status == 200
    found = answer.json["items"]
    assert [item["index"] for item in found] == list(range(len(items)))
    for item, sent in zip(found, items, strict=True):
        assert slug(item) is None
        check_alike(solve(json.dumps(sent).encode()).json, item["solution"])


def test_the_example_is_answered_as_its_stored_answer_says() -> None:
    sent = (EXAMPLES / "solution-batch-request.json").read_bytes()
    stored = json.loads((EXAMPLES / "solution-batch.json").read_text("utf-8"))
    found = ask(APP, "POST", PATH, sent).json
    for item in (*found["items"], *stored["items"]):
        if item["problem"]:
            item["problem"]["instance"] = ""
    check_alike(stored, found)


def test_five_thousand_vehicles_are_solved_in_one_body() -> None:
    item = json.dumps({**SAMPLE, "plan": False, "text": False, "running": False}).encode()
    answer = ask(APP, "POST", PATH, b'{"items":[' + b",".join([item] * 5000) + b"]}")
    assert answer.status == 200
    found = msgspec.json.decode(answer.body)["items"]
    assert [item["index"] for item in found] == list(range(5000))
    assert all(item["problem"] is None for item in found)


@pytest.mark.parametrize("headers", [JSON_HEADERS, LINES])
def test_five_thousand_and_one_vehicles_are_refused(headers: Any) -> None:
    body = b'{"items":[' + b",".join([b"{}"] * 5001) + b"]}"
    if headers is LINES:
        body, headers = b"{}\n" * 5001, (*LINES, (b"accept", b"application/json"))
    answer = ask(APP, "POST", PATH, body, headers)
    assert answer.status == 422
    assert answer.slug == "too-many-vehicles"


def test_a_stream_answers_as_many_as_it_may_and_ends_with_the_refusal_of_the_next(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(batch_reader, "MOST_VEHICLES", 150)
    found = stream(b"17\n" * 152)
    assert [item["index"] for item in found] == list(range(151))
    assert {slug(item) for item in found[:150]} == {"contract-broken"}
    assert slug(found[150]) == "too-many-vehicles"


def test_a_vehicle_with_a_letter_that_is_no_text_spoils_no_other() -> None:
    body = b'{"items": [%s, {"length_unit": "\xff"}]}' % json.dumps(SAMPLE).encode()
    found = ask(APP, "POST", PATH, body).json["items"]
    assert [slug(item) for item in found] == [None, "malformed-json"]


def spoilt() -> dict[str, Any]:
    """Requests with something wrong, by the kind of problem that each gets."""
    unread, lone = copy.deepcopy(SAMPLE), copy.deepcopy(SAMPLE)
    unread["readings"][0]["left"] = "three"
    del lone["readings"][1]["right"]
    impossible = copy.deepcopy(SAMPLE)
    impossible["readings"][0]["axle"] = 9
    return {
        "unreadable-text": unread,
        "incomplete-pair": lone,
        "axle-not-found": impossible,
        "contract-broken": 17,
    }


def test_bad_vehicles_get_the_problem_they_get_by_themselves_and_spoil_no_other() -> None:
    bad = spoilt()
    items = [SAMPLE] * 15
    for place, sent in enumerate(bad.values()):
        items.insert(3 * place, sent)
    found = batch(items).json["items"]
    expected = solve(json.dumps(SAMPLE).encode()).json
    for place, item in enumerate(found):
        assert item["index"] == place
        if items[place] is SAMPLE:
            check_alike(expected, item["solution"])
        else:
            alone = solve(json.dumps(items[place]).encode()).json
            assert item["problem"] | {"instance": ""} == alone | {"instance": ""}
    assert [s for s in map(slug, found) if s] == list(bad)


def test_a_problem_in_a_batch_names_the_request_it_came_with() -> None:
    answer = batch([17])
    [item] = answer.json["items"]
    assert item["problem"]["instance"] == f"urn:uuid:{answer.headers['request-id']}"


def test_a_key_that_stands_twice_in_one_vehicle_is_that_vehicles_problem() -> None:
    good = json.dumps(SAMPLE).encode()
    twice = good.replace(b'"length_unit":', b'"length_unit": "mm", "length_unit":', 1)
    answer = ask(APP, "POST", PATH, b'{"items": [' + good + b"," + twice + b"]}")
    assert [slug(item) for item in answer.json["items"]] == [None, "duplicate-key"]


@pytest.mark.parametrize(
    ("body", "kind"),
    [
        (b'{"items": []}', "contract-broken"),
        (b"{}", "contract-broken"),
        (b"[]", "contract-broken"),
        (b'{"items": {}}', "contract-broken"),
        (b'{"items": [{}], "more": 1}', "contract-broken"),
        (b'{"items": [{}], "items": [{}]}', "duplicate-key"),
        (b'{"items": [{}], "it\\u0065ms": [{}]}', "duplicate-key"),
        (b'{"items": [{"a": NaN}]}', "non-finite-number"),
        (b'{"items": [{}', "malformed-json"),
        (b'{"items": [{}]} and more', "malformed-json"),
        (b"", "malformed-json"),
    ],
)
def test_an_envelope_that_is_wrong_refuses_the_whole(body: bytes, kind: str) -> None:
    assert ask(APP, "POST", PATH, body).slug == kind


@pytest.mark.parametrize(
    ("envelope", "kind"),
    [
        (b'{"items": [%s], "more": 1}', "contract-broken"),
        (b'{"items": [%s], "items": [{}]}', "duplicate-key"),
        (b'{"items": [%s]', "malformed-json"),
        (b'{"items": [%s], "\xff": 1}', "malformed-json"),
        (b'{"items": [%s' + b"[" * 3000 + b"]" * 3000 + b"]}", "nested-too-deeply"),
    ],
)
def test_a_wrong_envelope_around_very_much_is_refused_at_a_glance(
    envelope: bytes, kind: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(batch_reader, "reader_of", None)
    big = b"0," * batch_reader.SMALL + b"0"
    body = envelope.replace(b"%s", big + (b"," if b"[[" in envelope else b""))
    assert ask(APP, "POST", PATH, body).slug == kind


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
