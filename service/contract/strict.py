"""The request class of the service: reads a body within its limit and decodes it strictly."""

from collections.abc import AsyncIterator
from functools import lru_cache
from typing import Any, cast

from litestar import Request
from litestar.types import Empty

from service.contract.asgi import Message, Scope, headers_of
from service.contract.bodies import reader_of
from service.contract.problem_catalogue import (
    BAD_HEADER,
    BODY_TOO_LARGE,
    UNSUPPORTED_MEDIA_TYPE,
)
from service.contract.problems import BodyLostError, FieldError, ProblemError
from service.contract.unreadable import not_json

JSON = "application/json"
JSON_ALONE = (JSON,)


class StrictRequest(Request[Any, Any, Any]):
    """A request whose `data` is decoded in msgspec's strict mode into the handler's type.

    A handler writes `data: JSONBody[SomeStruct]`. It sets a limit of its own by Litestar's
    `request_max_body_size=`, other media types of the body by `opt={"accepts": ("text/csv",)}`, and
    a reader of its own, `async read(request)`, by `opt={"reader": ...}`.
    """

    __slots__ = ()

    async def body(self) -> bytes:
        """The whole body; 413 as soon as it is known to be too large, 415 before reading it.

        Of a body of lines an empty one stands for all: its reader takes them as they come, and
        Litestar only asks whether there is a body.
        """
        body = self._body
        if body is Empty:
            lines = self.route_handler.opt.get("lines")
            read = self._read() if not lines or self.media_type not in lines else _no_line()
            body = self._body = self._connection_state.body = await read
        return body

    async def json(self) -> Any:
        """The body as an instance of the type of the handler's `data`."""
        value = self._json
        if value is Empty:
            field = self.route_handler.parsed_data_field
            if field is None:
                raise TypeError("the handler takes no data")
            reader = self.route_handler.opt.get("reader")
            if reader is None:
                value = reader_of(field.annotation).read(await self.body())
            else:
                value = await reader.read(self)
            self._json = self._connection_state.json = value
        return value

    @property
    def media_type(self) -> str:
        """Media type of the body, without its parameters."""
        declared = headers_of(cast(Scope, self.scope)).get(b"content-type", b"")
        return declared.decode("latin-1").partition(";")[0].strip().lower()

    async def parts(self) -> AsyncIterator[bytes]:
        """The body as it comes, with the checks of `body`, for one that is answered meanwhile."""
        limit = self._checked_limit()
        size, more = 0, True
        while more:
            message = await self._next_part()
            part: bytes = message.get("body", b"")
            size += len(part)
            if limit is not None and size > limit:
                raise too_large(limit)
            more = message.get("more_body", False)
            yield part

    def _checked_limit(self) -> int | None:
        """How large the body may be, once its headers were found to declare it well."""
        headers = headers_of(cast(Scope, self.scope))
        handler = self.route_handler
        limit = handler.resolve_request_max_body_size()
        _check_described(headers, handler.opt.get("accepts", JSON_ALONE))
        length = headers.get(b"content-length")
        if limit is not None and length is not None and _octets(length) > limit:
            raise too_large(limit)
        return limit

    async def _read(self) -> bytes:
        limit = self._checked_limit()
        message = await self._next_part()
        body: bytes = message.get("body", b"")
        if message.get("more_body", False):
            body = await self._read_on(body, limit)
        if limit is not None and len(body) > limit:
            raise too_large(limit)
        if not body and self.route_handler.parsed_data_field is not None:
            raise not_json("The body is empty.", "Send a JSON object.")
        return body

    async def _read_on(self, first: bytes, limit: int | None) -> bytes:
        """The rest of a body that comes in parts, with or without an announced length."""
        parts, size, more = [first], len(first), True
        while more:
            if limit is not None and size > limit:
                raise too_large(limit)
            message = await self._next_part()
            part = message.get("body", b"")
            parts.append(part)
            size += len(part)
            more = message.get("more_body", False)
        return b"".join(parts)

    async def _next_part(self) -> Message:
        message = cast(Message, await self.receive())
        if message["type"] == "http.disconnect":
            raise BodyLostError
        return message


def _check_described(sent: dict[bytes, bytes], accepts: tuple[str, ...]) -> None:
    """Refuse a body that its headers do not declare as what the handler takes."""
    content_type = sent.get(b"content-type", b"")
    coding = sent.get(b"content-encoding", b"identity")
    if content_type != b"application/json" or accepts != JSON_ALONE or coding != b"identity":
        fault = fault_of_media_type(content_type, coding, accepts)
        if fault is not None:
            headers = {"Accept-Post": ", ".join(accepts)}
            if fault.pointer == "Content-Encoding:":
                headers["Accept-Encoding"] = "identity"
            error = FieldError(fault.pointer, fault.detail, fault.hint)
            raise ProblemError(UNSUPPORTED_MEDIA_TYPE, fault.detail, [error], headers)


async def _no_line() -> bytes:
    return b"\n"


def _octets(length: bytes) -> int:
    if not length.isdigit():
        detail, hint = "Content-Length is not a number.", "Send the size of the body in bytes."
        error = FieldError("Content-Length:", detail, hint)
        raise ProblemError(BAD_HEADER, detail, [error], {"Connection": "close"})
    return int(length[:20])


@lru_cache(maxsize=256)
def fault_of_media_type(
    content_type: bytes, coding: bytes, accepts: tuple[str, ...]
) -> FieldError | None:
    """What is wrong with the headers that describe a body; None if nothing is."""
    media_type, *parameters = content_type.decode("latin-1").split(";")
    wanted = " or ".join(accepts)
    if media_type.strip().lower() not in accepts:
        detail = f"The body is declared as {media_type.strip() or 'nothing'}."
        return FieldError("Content-Type:", detail[:200], f"Send Content-Type: {wanted}.")
    for parameter in parameters:
        name, _, value = parameter.partition("=")
        charset = value.strip().strip('"').lower()
        if name.strip().lower() == "charset" and charset not in ("utf-8", "utf8"):
            detail = f"The charset {charset[:40]} is not read here."
            return FieldError("Content-Type:", detail, "Send UTF-8.")
    if coding.strip().lower() not in (b"identity", b""):
        detail = "The body is declared as compressed."
        return FieldError("Content-Encoding:", detail, "Send it as it is.")
    return None


def too_large(limit: int) -> ProblemError:
    """The problem of a body over its limit; the connection is closed on what is still to come."""
    detail = f"The body has more than {limit} bytes."
    hint = "Send less in one request."
    return ProblemError(
        BODY_TOO_LARGE, detail, [FieldError("#", detail, hint)], {"Connection": "close"}
    )
