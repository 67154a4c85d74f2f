"""One request to an ASGI application, without a server and without a client's own opinions."""

import asyncio
import atexit
import json
from collections.abc import Iterable, Sequence
from functools import cache
from typing import Any, NamedTuple

JSON_HEADERS = ((b"content-type", b"application/json"),)


class Answer(NamedTuple):
    """What came back."""

    status: int
    headers: dict[str, str]
    body: bytes

    @property
    def json(self) -> Any:
        """The body as JSON."""
        return json.loads(self.body)

    @property
    def slug(self) -> str:
        """Kind of the problem, checked to be one: status, media type and request id agree."""
        problem = self.json
        assert self.headers["content-type"] == "application/problem+json"
        assert problem["status"] == self.status
        assert problem["instance"] == f"urn:uuid:{self.headers['request-id']}"
        assert set(problem) == {"type", "title", "status", "detail", "instance", "errors"}
        return str(problem["type"].removeprefix("/problems/"))

    @property
    def pointers(self) -> list[str]:
        """Where the problem's errors are."""
        return [error["pointer"] for error in self.json["errors"]]


def ask(
    app: Any,
    method: str,
    path: str,
    body: bytes | Sequence[bytes] = b"",
    headers: Iterable[tuple[bytes, bytes]] = JSON_HEADERS,
    query: bytes = b"",
) -> Answer:
    """Send a request, its body in one part or in several, and gather the answer."""
    return _loop().run_until_complete(answer_of(app, method, path, body, headers, query))


@cache
def _loop() -> asyncio.AbstractEventLoop:
    """One event loop for all: making one takes longer than most requests."""
    loop = asyncio.new_event_loop()
    atexit.register(loop.close)
    return loop


async def answer_of(
    app: Any,
    method: str,
    path: str,
    body: bytes | Sequence[bytes] = b"",
    headers: Iterable[tuple[bytes, bytes]] = JSON_HEADERS,
    query: bytes = b"",
) -> Answer:
    """The same within a running event loop."""
    parts = [body] if isinstance(body, bytes) else list(body)
    messages = [
        {"type": "http.request", "body": part, "more_body": number < len(parts)}
        for number, part in enumerate(parts, 1)
    ]
    sent: list[Any] = []
    answered = asyncio.Event()

    async def receive() -> Any:
        if messages:
            return messages.pop(0)
        await answered.wait()  # as with a server: the client stays for its answer
        return {"type": "http.disconnect"}

    async def send(message: Any) -> None:
        sent.append(message)
        if message["type"] == "http.response.body" and not message.get("more_body", False):
            answered.set()

    await app(scope_of(method, path, headers, query), receive, send)
    start, *contents = sent
    assert start["type"] == "http.response.start"
    return Answer(
        start["status"],
        {name.decode(): value.decode("latin-1") for name, value in start["headers"]},
        b"".join(message["body"] for message in contents),
    )


def scope_of(
    method: str, path: str, headers: Iterable[tuple[bytes, bytes]] = (), query: bytes = b""
) -> dict[str, Any]:
    """An ASGI 3 scope as a server makes it."""
    return {
        "type": "http",
        "asgi": {"version": "3.0", "spec_version": "2.3"},
        "http_version": "1.1",
        "method": method,
        "scheme": "http",
        "path": path,
        "raw_path": path.encode("utf-8", "surrogatepass"),
        "query_string": query,
        "root_path": "",
        "headers": [(b"host", b"127.0.0.1:8410"), *headers],
        "client": ("127.0.0.1", 50000),
        "server": ("127.0.0.1", 8410),
        "state": {},
    }
