"""What a connection may take: no client holds the service by being slow, large or many.

Each runs against the real server with short settings.
"""

import asyncio
import json
from typing import Any

import httpx
import msgspec
import pytest
from running import Running, serving
from served import READINGS

from service.api import metrics
from service.settings import Settings

pytestmark = pytest.mark.anyio

SHORT = {"head_seconds": 0.4, "body_seconds": 0.4, "send_seconds": 0.4, "idle_seconds": 0.4}
HEAD = b"POST /v1/solutions HTTP/1.1\r\nHost: a\r\nContent-Type: application/json\r\n"
GET = b"GET /health/live HTTP/1.1\r\nHost: a\r\n\r\n"


def short(sqlite_url: str, **more: Any) -> Settings:
    return Settings(database_url=sqlite_url, **{**SHORT, **more})


def problem(answer: bytes) -> tuple[int, str]:
    """Status and kind of the last problem in raw bytes, checked to be one that ends it all."""
    head, _, body = answer[answer.rindex(b"HTTP/1.1 ") :].partition(b"\r\n\r\n")
    told = json.loads(body)
    assert b"content-type: application/problem+json" in head
    assert b"connection: close" in head
    assert f"request-id: {told['instance'].removeprefix('urn:uuid:')}".encode() in head
    status = int(head.split()[1])
    assert told["status"] == status
    return status, told["type"].removeprefix("/problems/")


def counted(event: str, label: str) -> int:
    found = {(e, of): n for e, of, n in metrics.counts({}).events}
    return found.get((event, label), 0)


async def test_a_head_that_stops_half_way_is_answered_408(sqlite_url: str) -> None:
    before = counted("cut_off", "head")
    async with serving(short(sqlite_url)) as running:
        assert problem(await running.raw(HEAD)) == (408, "too-slow")
    assert counted("cut_off", "head") == before + 1


async def test_a_head_that_trickles_is_cut_off_though_something_always_comes(
    sqlite_url: str,
) -> None:
    async with serving(short(sqlite_url)) as running:
        pieces = [bytes([one]) for one in HEAD * 3]
        answer = await running.raw(*pieces, pause=0.05)
    assert answer == b"" or problem(answer) == (408, "too-slow")


async def test_a_connection_that_asks_nothing_is_closed(sqlite_url: str) -> None:
    async with serving(short(sqlite_url)) as running:
        assert await running.raw(b"", patience=5) == b""


async def test_empty_lines_keep_no_connection_open(sqlite_url: str) -> None:
    async with serving(short(sqlite_url)) as running:
        assert problem(await running.raw(b"\r\n", patience=5)) == (408, "too-slow")
        again = await running.raw(GET, b"\r\n", pause=0.1, patience=5)
    assert again.startswith(b"HTTP/1.1 200 ")


async def test_an_idle_connection_is_closed_after_its_answer(sqlite_url: str) -> None:
    async with serving(short(sqlite_url)) as running:
        answer = await running.raw(GET, patience=5)
    assert answer.startswith(b"HTTP/1.1 200 ")


async def test_a_body_that_stops_half_way_is_answered_408(sqlite_url: str) -> None:
    async with serving(short(sqlite_url)) as running:
        answer = await running.raw(HEAD + b"Content-Length: 500\r\n\r\n{")
    assert problem(answer) == (408, "too-slow")


async def test_a_large_body_earns_its_time(sqlite_url: str) -> None:
    """96 KiB in 3.6 s where 2 s are allowed: the rate counts, not the time alone."""
    async with serving(short(sqlite_url, body_seconds=2)) as running:
        part = b" " * 32 * 1024
        announced = HEAD + b"Connection: close\r\nContent-Length: %d\r\n\r\n" % (3 * len(part) + 2)
        answer = await running.raw(announced, part, part, part, b"{}", pause=0.9)
    assert answer.startswith(b"HTTP/1.1 422 ")


async def test_headers_over_the_limit_are_answered_431_whole_or_not(sqlite_url: str) -> None:
    async with serving(short(sqlite_url, head_limit=2048, head_seconds=10)) as running:
        long = b"X-Long: " + b"a" * 3000
        assert problem(await running.raw(HEAD + long + b"\r\n\r\n")) == (431, "head-too-large")
        endless = await running.raw(HEAD + long, b"a" * 3000, pause=0.1)
        assert problem(endless) == (431, "head-too-large")


async def test_a_body_before_the_next_head_is_not_held_against_it(sqlite_url: str) -> None:
    body = msgspec.json.encode(READINGS) + b" " * 8000
    whole = HEAD + b"Content-Length: %d\r\n\r\n" % len(body) + body
    last = b"GET /health/live HTTP/1.1\r\nHost: a\r\nConn"
    async with serving(short(sqlite_url, head_limit=2048, head_seconds=10)) as running:
        answer = await running.raw(whole + last, b"ection: close\r\n\r\n", pause=0.1)
    assert answer.count(b"HTTP/1.1 200 ") == 2


async def test_what_is_not_http_is_a_problem_like_every_other(sqlite_url: str) -> None:
    async with serving(short(sqlite_url)) as running:
        assert problem(await running.raw(b"\x16\x03\x01\r\n\r\n")) == (400, "not-http")


async def test_a_client_that_takes_nothing_is_cut_off(sqlite_url: str) -> None:
    before = counted("cut_off", "send")
    async with serving(short(sqlite_url, idle_seconds=30)) as running:
        _, writer = await asyncio.open_connection("127.0.0.1", running.port, limit=1024)
        asked = b"GET /openapi.json HTTP/1.1\r\nHost: a\r\n\r\n"
        writer.write(asked * 60)  # some 30 MB of answers, more than all buffers on the way hold
        for _ in range(600):
            await asyncio.sleep(0.1)
            if counted("cut_off", "send") > before:
                break
        writer.transport.abort()
    assert counted("cut_off", "send") == before + 1


async def test_a_client_that_reads_slowly_but_reads_gets_all_of_it(sqlite_url: str) -> None:
    async with serving(short(sqlite_url)) as running:
        asked = b"GET /openapi.json HTTP/1.1\r\nHost: a\r\nConnection: close\r\n\r\n"
        reader, writer = await asyncio.open_connection("127.0.0.1", running.port, limit=4096)
        writer.write(asked)
        got = b""
        while part := await reader.read(64 * 1024):
            got += part
            await asyncio.sleep(0.05)
        writer.close()
    head, _, body = got.partition(b"\r\n\r\n")
    assert f"content-length: {len(body)}".encode() in head


async def test_connections_over_the_limit_are_told_503_and_closed(sqlite_url: str) -> None:
    async with serving(short(sqlite_url, connections=2, head_seconds=20)) as running:
        held = [await asyncio.open_connection("127.0.0.1", running.port) for _ in range(2)]
        for _, writer in held:
            writer.write(GET)
        for reader, _ in held:
            assert (await reader.readline()).startswith(b"HTTP/1.1 200 ")
        assert problem(await running.raw(GET)) == (503, "unavailable")
        for _, writer in held:
            writer.close()
        await asyncio.sleep(0.2)
        assert (await running.raw(GET)).startswith(b"HTTP/1.1 200 ")


async def test_requests_over_the_limit_get_503_with_retry_after(sqlite_url: str) -> None:
    async with serving(Settings(database_url=sqlite_url, at_once=1)) as running:
        running.door.watch.busy += 1  # another one is being worked on
        answer = await asked(running)
        running.door.watch.busy -= 1
        assert answer.status_code == 503
        assert answer.headers["retry-after"] == "1"
        assert (await asked(running)).status_code == 200


async def test_health_is_answered_however_busy_the_process_is(sqlite_url: str) -> None:
    async with serving(Settings(database_url=sqlite_url, at_once=1)) as running:
        running.door.watch.busy += 5
        async with httpx.AsyncClient() as client:
            answer = await client.get(f"http://127.0.0.1:{running.port}/health/live")
        running.door.watch.busy -= 5
    assert answer.status_code == 200


async def asked(running: Running) -> httpx.Response:
    async with httpx.AsyncClient() as client:
        return await client.post(f"http://127.0.0.1:{running.port}/v1/solutions", json=READINGS)


async def test_a_body_over_the_limit_is_413_before_it_is_read(sqlite_url: str) -> None:
    async with serving(short(sqlite_url, body_limit=1024)) as running:
        answer = await running.raw(HEAD + b"Content-Length: 1025\r\n\r\n", pause=0.1)
    assert problem(answer) == (413, "body-too-large")


async def test_a_connection_lives_on_after_heads(
    sqlite_url: str, caplog: pytest.LogCaptureFixture
) -> None:
    """The server counts what HEAD is not sent as missing, unless it knows of the HEAD."""
    async with serving(Settings(database_url=sqlite_url)) as running:
        heads = [
            f"{method} {path} HTTP/1.1\r\nHost: a\r\n\r\n".encode()
            for path in ("/v1/target-sets", "/nothing", "/v1/solutions", "/openapi.json")
            for method in ("HEAD", "HEAD")
        ]
        answer = await running.raw(
            *heads, GET.replace(b"\r\n\r\n", b"\r\nConnection: close\r\n\r\n")
        )
    statuses = [int(part[:3]) for part in answer.split(b"HTTP/1.1 ")[1:]]
    assert statuses == [200, 200, 404, 404, 405, 405, 200, 200, 200]
    assert answer.count(b"\r\n\r\n{") == 1, "only GET was sent content"
    assert not [record for record in caplog.records if record.levelname == "ERROR"]
