"""Names for the three things an ASGI application is called with (ASGI 3.0)."""

from collections.abc import Awaitable, Callable, MutableMapping
from typing import Any

Scope = MutableMapping[str, Any]
Message = MutableMapping[str, Any]
Receive = Callable[[], Awaitable[Any]]
Send = Callable[[Any], Awaitable[None]]
Application = Callable[[Any, Any, Any], Awaitable[None]]


def headers_of(scope: Scope) -> dict[bytes, bytes]:
    """The headers of a request by name, of one that came twice the last; made once a request."""
    found: dict[bytes, bytes] | None = scope.get("headers_by_name")
    if found is None:
        found = scope["headers_by_name"] = dict(scope["headers"])
    return found
