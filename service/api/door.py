"""The outermost layer: what holds for every request, whatever its resource.

One thin ASGI application around Litestar rather than a stack of its middleware, each of which
costs a good part of a whole request.
"""

from collections.abc import Awaitable, Mapping
from time import perf_counter

from litestar import Litestar

from service.api import metrics
from service.api.browsers import allowed_by_preflight, is_preflight
from service.api.direct import Direct
from service.api.failures import problem_reply
from service.api.rates import Headers
from service.api.routing import Routes
from service.api.watch import Watch, with_extra
from service.contract.asgi import Application, Message, Receive, Scope, Send, headers_of
from service.contract.media import acceptable
from service.contract.problem_catalogue import NOT_ACCEPTABLE, NOT_FOUND, UNAVAILABLE
from service.contract.problems import FieldError, ProblemError
from service.contract.request_ids import RequestIds


class Door:
    """ASGI application that every request passes first.

    It gives the request its id, has it watched and counted, answers HEAD by GET and OPTIONS by the
    methods that there are, refuses what no resource needs to see (a trailing slash, an unknown or
    repeated query parameter, an `Accept` that cannot be met), and turns anything that goes wrong
    into a problem.
    """

    def __init__(self, app: Litestar, watch: Watch) -> None:
        self.app = app
        self.watch = watch
        self._inner: Application = app
        self._direct = Direct(app)
        self._ids = RequestIds()
        self._routes: Routes = app.state["routes"]

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request; the lifespan goes through to Litestar."""
        if scope["type"] != "http":
            await self._inner(scope, receive, send)
            return
        begun = perf_counter()
        watch = self.watch
        headers = headers_of(scope)
        request_id = self._ids.id_of(headers.get(b"request-id"))
        scope["request_id"] = request_id
        status = 0
        extra: Headers = ((b"request-id", request_id),)

        def answer(message: Message) -> Awaitable[None]:
            nonlocal status
            if message["type"] == "http.response.start":
                status = message["status"]
                message["headers"] = with_extra(message["headers"], extra)
            return send(message)

        is_head = scope["method"] == "HEAD"
        if is_head:
            # A copy: the server goes by its own whether there is content to come.
            scope = {**scope, "method": "GET"}
            send = _without_body(send)
        watch.busy += 1
        try:
            extra += watch.enter(scope, headers)
            if "refusal" in scope:
                raise scope["refusal"]
            if scope["path"].startswith("/v1/"):
                extra += await watch.admit(scope, headers)
            if not _waved_through(scope, headers):
                if scope["method"] == "OPTIONS":
                    await self._answer_options(scope, headers, answer)
                    return
                self._look_closer(scope, headers)
            handler = self._direct.handler(scope, headers)
            if handler is not None:
                await self._direct.answer(handler, scope, receive, answer)
            else:
                await self._inner(scope, receive, answer)
        except Exception as error:
            if status:
                raise
            await problem_reply(error, scope)(scope, receive, answer)
        finally:
            watch.busy -= 1
            if is_head:
                scope["method"] = "HEAD"  # as the line of the log has it
            watch.leave(scope, headers, status, begun)

    async def turn_away(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer a request on a connection over the limit: 503, and the connection is closed."""
        metrics.count("turned_away", "connections")
        headers = {"Retry-After": "1", "Connection": "close"}
        scope["refusal"] = ProblemError(
            UNAVAILABLE, "As many clients are connected as the service takes.", headers=headers
        )
        await self(scope, receive, send)

    def _look_closer(self, scope: Scope, headers: Mapping[bytes, bytes]) -> None:
        """Raise a problem for what is wrong with a request before any handler sees it."""
        path = scope["path"]
        _refuse_slashes(path)
        handler = self._routes.handler(path, scope["method"])
        if handler is None:
            return
        produced = tuple(handler.opt.get("produces", ("application/json",)))
        if not acceptable(headers.get(b"accept", b"*/*"), produced):
            raise _not_acceptable(produced)
        if scope["query_string"]:
            faults = self._routes.query_rules(handler).faults(scope["query_string"])
            if faults:
                raise ProblemError.of_broken_rules(faults)

    async def _answer_options(self, scope: Scope, sent: Mapping[bytes, bytes], send: Send) -> None:
        path = scope["path"]
        _refuse_slashes(path)
        methods = self._routes.methods(path)
        if not methods:
            raise ProblemError(NOT_FOUND, "There is nothing at this address.")
        headers = [(b"allow", ", ".join(methods).encode())]
        if self.watch.cross_origin and is_preflight(sent):
            headers += allowed_by_preflight(methods)
        if "POST" in methods:
            taken = self._routes.handler(path, "POST").opt.get("accepts", ("application/json",))
            headers.append((b"accept-post", ", ".join(taken).encode()))
        await send({"type": "http.response.start", "status": 204, "headers": headers})
        await send({"type": "http.response.body", "body": b"", "more_body": False})


def _waved_through(scope: Scope, headers: Mapping[bytes, bytes]) -> bool:
    """Whether nothing about the request asks for a second look: true for nearly all."""
    path = scope["path"]
    return (
        not scope["query_string"]
        and (path[-1:] != "/" or path == "/")
        and "//" not in path
        and scope["method"] != "OPTIONS"
        and headers.get(b"accept", b"*/*") == b"*/*"
    )


def _refuse_slashes(path: str) -> None:
    """One address for one thing: an empty segment or a slash at the end names nothing."""
    if path != "/" and (path.endswith("/") or "//" in path):
        clean = "/" + "/".join(part for part in path.split("/") if part)
        detail = f"There is nothing at {path[:200]}. Did you mean {clean[:200]}?"
        raise ProblemError(NOT_FOUND, detail)


def _not_acceptable(produced: tuple[str, ...]) -> ProblemError:
    detail = f"The operation answers in {' or '.join(produced)}."
    hint = f"Send Accept: {produced[0]}."
    return ProblemError(NOT_ACCEPTABLE, detail, [FieldError("Accept:", detail, hint)])


def _without_body(send: Send) -> Send:
    """What HEAD sends: the head of the answer to GET, and no content."""

    async def send_head(message: Message) -> None:
        if message["type"] == "http.response.body":
            if message.get("more_body", False):
                return
            message = {"type": "http.response.body", "body": b"", "more_body": False}
        await send(message)

    return send_head
