"""An offer to change the protocol takes nothing from a request (RFC 9110 section 7.8)."""

import asyncio
from typing import Any

import pytest
import uvicorn

from service.command.protocol import PlainHttpProtocol

OFFER = (
    b"Connection: Upgrade, HTTP2-Settings\r\nUpgrade: h2c\r\nHTTP2-Settings: AAEAAEAAAAIAAAAB\r\n"
)
FIXED = b"POST /fixed HTTP/1.1\r\nHost: a\r\n%bContent-Length: 5\r\n\r\nhello"
CHUNKED = (
    b"POST /chunked HTTP/1.1\r\nHost: a\r\n%bTransfer-Encoding: chunked\r\n\r\n"
    b"3\r\nhel\r\n2\r\nlo\r\n0\r\n\r\n"
)
EMPTY = b"GET /empty?a=%%201 HTTP/1.1\r\nHost: a\r\n%b\r\n"
CLOSING = b"GET /last HTTP/1.1\r\nHost: a\r\nConnection: close\r\n\r\n"


async def echo(scope: Any, receive: Any, send: Any) -> None:
    """Answers with what arrived: method, path, query and body."""
    body, more = b"", True
    while more:
        message = await receive()
        body, more = body + message.get("body", b""), message.get("more_body", False)
    line = f"{scope['method']} {scope['path']} {scope['query_string'].decode()}"
    content = f"[{line} {body.decode()}]".encode()
    length = [(b"content-length", str(len(content)).encode())]
    await send({"type": "http.response.start", "status": 200, "headers": length})
    await send({"type": "http.response.body", "body": content})


async def exchange(pieces: list[bytes]) -> bytes:
    """All that the server answers to pieces sent one after another on one connection."""
    config = uvicorn.Config(
        echo, port=0, http=PlainHttpProtocol, lifespan="off", log_level="critical"
    )
    server = uvicorn.Server(config)
    running = asyncio.create_task(server.serve())
    while not server.started:
        await asyncio.sleep(0.01)
    port = server.servers[0].sockets[0].getsockname()[1]
    reader, writer = await asyncio.open_connection("127.0.0.1", port)
    for piece in pieces:
        writer.write(piece)
        await writer.drain()
        await asyncio.sleep(0)
    answer = await asyncio.wait_for(reader.read(), timeout=30)
    writer.close()
    server.should_exit = True
    await running
    return answer


def bodies(answer: bytes) -> list[str]:
    """What the application saw, one entry a request."""
    return [part.split(b"]")[0].decode() for part in answer.split(b"\r\n\r\n[")[1:]]


SEEN = {FIXED: "POST /fixed  hello", CHUNKED: "POST /chunked  hello", EMPTY: "GET /empty a=%201 "}


@pytest.mark.parametrize("request_text", SEEN, ids=["fixed length", "chunked", "no body"])
@pytest.mark.parametrize("offer", [b"", OFFER, OFFER.lower()], ids=["none", "h2c", "lower case"])
@pytest.mark.parametrize("size", [1, 7, 10_000], ids=lambda size: f"{size} bytes a packet")
def test_a_request_is_read_whole_whatever_it_offers(
    request_text: bytes, offer: bytes, size: int
) -> None:
    sent = request_text % offer + CLOSING
    pieces = [sent[start : start + size] for start in range(0, len(sent), size)]
    assert bodies(asyncio.run(exchange(pieces))) == [SEEN[request_text], "GET /last  "]


def test_several_offers_on_one_connection_are_passed_over() -> None:
    sent = (FIXED % OFFER) + (EMPTY % b"") + (CHUNKED % OFFER) + CLOSING
    seen = [SEEN[FIXED], SEEN[EMPTY], SEEN[CHUNKED], "GET /last  "]
    assert bodies(asyncio.run(exchange([sent]))) == seen


def test_an_offer_of_websocket_is_passed_over_too() -> None:
    offer = b"Connection: Upgrade\r\nUpgrade: websocket\r\n"
    assert bodies(asyncio.run(exchange([FIXED % offer, CLOSING])))[0] == SEEN[FIXED]


def test_what_is_not_http_is_still_refused() -> None:
    assert asyncio.run(exchange([b"\x00\x01\x02\r\n\r\n"])).startswith(b"HTTP/1.1 400 ")


def test_a_body_that_breaks_off_after_an_offer_is_refused() -> None:
    broken = CHUNKED.replace(b"3\r\nhel", b"zz\r\nhel")
    assert b"HTTP/1.1 400 " in asyncio.run(exchange([broken % OFFER]))
