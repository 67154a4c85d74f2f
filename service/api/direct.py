"""The short way to a handler that takes a body and nothing else, as those that compute do.

For each request the framework asks what a handler wants: parameters, dependencies, guards, cookies,
hooks. Such a handler wants none of them, and that is known when the application is made. What is
left is to read the body as its type, call the handler and send its answer, which takes a third of
the time. Everything that is not exactly so goes the framework's way, and both end alike.
"""

import re
from collections.abc import Mapping
from functools import lru_cache
from typing import Any

from litestar import Litestar
from litestar.routes import HTTPRoute
from litestar.utils.path import normalize_path

from service.contract.asgi import Receive, Scope, Send
from service.contract.replies import Reply
from service.contract.strict import StrictRequest

_HOST = re.compile(rb"[A-Za-z0-9._:-]*\Z")
"""A `Host` that the framework takes without doubt; it judges every other one itself."""


class Direct:
    """The handlers of an application that take the short way, by their address."""

    def __init__(self, app: Litestar) -> None:
        self._app = app
        self._handlers = {
            normalize_path(route.path): handler
            for route in app.routes
            if isinstance(route, HTTPRoute)
            for handler, _ in route.route_handler_map.values()
            if _is_plain(handler)
        }

    def handler(self, scope: Scope, headers: Mapping[bytes, bytes]) -> Any:
        """The handler of a request that may go the short way, else None."""
        found = self._handlers.get(scope["path"])
        if (
            found is None
            or scope["method"] != "POST"
            or scope["query_string"]
            or scope.get("root_path")
            or not _is_sound(headers.get(b"host", b""))
        ):
            return None
        return found

    async def answer(self, handler: Any, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer a request; what is raised is answered by the door, as the framework would."""
        scope["app"] = scope["litestar_app"] = self._app
        scope["route_handler"] = handler
        scope["path_params"] = {}
        scope.setdefault("state", {})
        request = StrictRequest(scope, receive, send)  # type: ignore[arg-type]
        hook = handler.resolve_before_request()
        if hook is not None:
            await hook(request)
        answer = handler.fn(data=await request.json())
        reply: Reply[Any] = answer if isinstance(answer, Reply) else Reply(answer)
        await reply.to_asgi_response(status_code=handler.status_code)(scope, receive, send)


@lru_cache(maxsize=1024)
def _is_sound(host: bytes) -> bool:
    return _HOST.match(host) is not None


def _is_plain(handler: Any) -> bool:
    """Whether a handler takes a body, is quick, and asks nothing else of the framework."""
    return (
        handler.http_methods == {"POST"}
        and set(handler.parsed_fn_signature.parameters) == {"data"}
        and handler.has_sync_callable
        and handler.resolve_request_class() is StrictRequest
        and handler.resolve_response_class() is Reply
        and not handler.resolve_guards()
        and not handler.resolve_middleware()
        and not handler.resolve_dependencies()
        and not handler.resolve_response_headers()
        and not handler.resolve_response_cookies()
        and all(layer.after_request is None for layer in handler.ownership_layers)
        and handler.resolve_after_response() is None
        and not handler.cache
        and not handler.background
        and "reader" not in handler.opt
        and "produces" not in handler.opt
    )
