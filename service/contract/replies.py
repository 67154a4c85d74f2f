"""Answers on their way out: a struct encoded once and checked, or bytes that are ready."""

from collections.abc import AsyncGenerator, Mapping
from contextlib import aclosing
from typing import Any, TypeVar

import msgspec
from litestar import Request, Response

from service.contract.asgi import Receive, Scope, Send
from service.contract.finite import require_finite

T = TypeVar("T")

_WITHOUT_BODY = (204, 304)

_encode = msgspec.json.Encoder().encode


def encoded(answer: msgspec.Struct) -> bytes:
    """An answer's JSON; raises `NotFiniteError` rather than write null for NaN or infinity."""
    require_finite(answer)
    return _encode(answer)


class Reply(Response[T]):
    """The response class of the service, an ASGI application itself.

    A handler returns a struct, or where it sets headers or has the bytes already, a
    `Reply[TheStruct]`, which documents the struct: `Reply(bytes_or_struct, headers={...})`.
    """

    def __init__(
        self,
        content: T | bytes,
        *,
        status_code: int | None = None,
        media_type: str | None = None,
        headers: Mapping[str, str] | None = None,
        **_unused: Any,
    ) -> None:
        self.body = content if isinstance(content, bytes) else _written(content)
        self.status_code = status_code
        self.media_type = media_type
        self.headers = headers  # type: ignore[assignment]

    def to_asgi_response(  # type: ignore[override]
        self,
        app: Any = None,
        request: Request[Any, Any, Any] | None = None,
        *,
        headers: Mapping[str, str] | None = None,
        media_type: str | None = None,
        status_code: int | None = None,
        **_unused: Any,
    ) -> "Reply[T]":
        """Take from the handler's declaration what the reply does not set itself."""
        self.status_code = self.status_code or status_code
        self.media_type = self.media_type or media_type
        if headers:
            self.headers = {**headers, **(self.headers or {})}
        return self

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Send the answer."""
        body = self.body
        status = self.status_code or 200
        head = []
        if status not in _WITHOUT_BODY:
            media_type = (self.media_type or "application/json").encode()
            head = [(b"content-type", media_type), (b"content-length", b"%d" % len(body))]
        if self.headers:
            head += [(k.lower().encode(), v.encode("latin-1")) for k, v in self.headers.items()]
        await send({"type": "http.response.start", "status": status, "headers": head})
        await send({"type": "http.response.body", "body": body, "more_body": False})


class PiecesReply(Reply[T]):
    """An answer that is sent in pieces, each as it is ready: some, while more is asked.

    `length` is that of all together, where it is known.
    """

    def __init__(
        self,
        pieces: AsyncGenerator[bytes, None],
        *,
        media_type: str = "application/json",
        length: int | None = None,
    ) -> None:
        super().__init__(b"", media_type=media_type)
        self.pieces = pieces
        self.length = length

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Send the answer."""
        head = [(b"content-type", (self.media_type or "").encode())]
        if self.length is not None:
            head.append((b"content-length", b"%d" % self.length))
        async with aclosing(self.pieces) as pieces:
            await send({"type": "http.response.start", "status": 200, "headers": head})
            async for piece in pieces:
                await send({"type": "http.response.body", "body": piece, "more_body": True})
        await send({"type": "http.response.body", "body": b"", "more_body": False})


def _written(content: Any) -> bytes:
    if isinstance(content, str):
        return content.encode()
    if content is None:
        return b""
    require_finite(content)
    return _encode(content)
