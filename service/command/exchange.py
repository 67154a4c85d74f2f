"""Asks the service within this process, so that a command answers exactly as the wire does."""

from typing import Any, NamedTuple
from urllib.parse import urlencode

from service.app import create_app
from service.settings import Settings

WIDE_BODY = 64 * 1024 * 1024
"""Bytes: a file on one's own disk may be larger than what a stranger may send."""


class Answer(NamedTuple):
    """Status and body of an answer."""

    status: int
    body: bytes


async def ask(
    method: str, path: str, body: bytes = b"", query: dict[str, str] | None = None
) -> Answer:
    """Send one request to the application, without a network."""
    app = create_app(Settings(body_limit=WIDE_BODY))
    scope: dict[str, Any] = {
        "type": "http",
        "asgi": {"version": "3.0", "spec_version": "2.3"},
        "http_version": "1.1",
        "method": method,
        "scheme": "http",
        "path": path,
        "raw_path": path.encode(),
        "root_path": "",
        "query_string": urlencode(query or {}).encode(),
        "headers": [
            (b"host", b"localhost"),
            (b"content-type", b"application/json"),
            (b"content-length", str(len(body)).encode()),
        ],
        "client": ("127.0.0.1", 0),
        "server": ("127.0.0.1", 0),
        "state": {},
    }
    sent: list[dict[str, Any]] = []

    async def receive() -> dict[str, Any]:
        return {"type": "http.request", "body": body, "more_body": False}

    async def send(message: Any) -> None:
        sent.append(message)

    await app(scope, receive, send)
    whole = b"".join(m.get("body", b"") for m in sent if m["type"] == "http.response.body")
    return Answer(sent[0]["status"], whole)
