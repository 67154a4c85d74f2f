"""What runs beside every request of the door: limits, counts, log lines and protective headers.

One object a process. The door asks it twice, when a request comes in and when it is done, and each
step is here to be cheap: what is rare (a shared limit, a browser, a proxy, a trace) is asked for
by one look at a header or a setting.
"""

import asyncio
from collections.abc import AsyncIterator, Callable, Mapping, MutableMapping
from contextlib import asynccontextmanager
from pathlib import Path
from time import monotonic, perf_counter, time
from typing import Any

from service.api import metrics
from service.api.addresses import TrustedProxies, household
from service.api.browsers import ALWAYS, OF_A_SHOP, OVER_TLS, CrossOrigin
from service.api.folder_rates import FolderSource
from service.api.lines import LineWriter
from service.api.logs import RequestLines, middle_of
from service.api.rates import Counter, GoodKeys, Headers, OwnSource, Policy, Source, cost_of
from service.api.shared_counts import SharedCounts
from service.api.shared_rates import SharedSource
from service.api.tracing import trace_of
from service.contract.asgi import Scope
from service.contract.problem_catalogue import RATE_LIMITED, UNAVAILABLE
from service.contract.problems import ProblemError
from service.settings import Settings
from service.store.database import Store

HeaderMap = Mapping[bytes, bytes]

_CLOSE: Headers = ((b"connection", b"close"),)


class Watch:
    """The limits, counts and log of one process."""

    def __init__(self, settings: Settings) -> None:
        self.busy = 0
        self.draining = False
        self.shared: SharedCounts | None = None
        self.connections: Callable[[], int] = lambda: 0
        self.store: Store | None = None
        self.cross_origin = CrossOrigin(settings.cors_origins)
        self._proxies = TrustedProxies(settings.trusted_proxies)
        self._at_once = settings.at_once
        self._longest_wait = settings.longest_wait
        self._per_key = _counter("key", settings.rate("rate_per_key"))
        self._per_address = _counter("address", settings.rate("rate_per_address"))
        self._limited = bool(self._per_key or self._per_address)
        self._source: Source = (
            SharedSource(settings.limits_url) if settings.limits_url else OwnSource()
        )
        self._good_keys = GoodKeys()
        self._seen: dict[tuple[int, str, int], tuple[metrics.Timer, bytes]] = {}
        self._names: dict[int, str] = {}
        self._writer: LineWriter | None = None
        self._lines: RequestLines | None = None
        self._spans: Any = None
        self._otlp_endpoint = settings.otlp_endpoint

    def log_to(self, lines: LineWriter) -> None:
        """Write a line of every request from now on."""
        self._writer = lines
        self._lines = RequestLines(lines)

    def share_counts(self, folder: str) -> None:
        """Share counts and limits with the other processes of the port, by files in a folder."""
        self.shared = SharedCounts(Path(folder))
        if isinstance(self._source, OwnSource):
            self._source = FolderSource(Path(folder))

    def gauges(self) -> dict[str, float]:
        """How things stand now, by names of metrics."""
        own: dict[str, float] = {
            "requests_in_progress": self.busy,
            "connections_open": self.connections(),
        }
        if self._writer is not None:
            own["log_lines_waiting"] = self._writer.waiting
            own["log_lines_dropped"] = self._writer.dropped
        return own if self.store is None else own | self.store.gauges()

    def drain(self) -> None:
        """Turn readiness red, and close each connection with its next answer."""
        self.draining = True

    async def accepting(self) -> None:
        """The readiness check: raises while the process is about to stop."""
        if self.draining:
            raise RuntimeError("the process is about to stop")

    @asynccontextmanager
    async def lifespan(self, _app: Any) -> AsyncIterator[None]:
        """Open what needs a running loop, and close it at the end."""
        if self._otlp_endpoint:
            from service.api.telemetry import Spans  # an extra, and slow to import

            self._spans = Spans(self._otlp_endpoint)
        telling = asyncio.create_task(self._tell())
        try:
            yield
        finally:
            telling.cancel()
            await self._source.close()
            if self._spans is not None:
                await asyncio.to_thread(self._spans.close)

    async def _tell(self) -> None:
        """Tell the other processes of the port what was counted, once a second."""
        while self.shared is not None:
            self.shared.tell(metrics.counts(self.gauges()))
            await asyncio.sleep(1.0)

    def enter(self, scope: Scope, headers: HeaderMap) -> Headers:
        """Note that a request came in; returns what its answer will carry.

        Raises nothing: a request that is refused is refused by `admit`.
        """
        if self._proxies:
            self._proxies.see_through(scope)
        extra = ALWAYS
        if scope["scheme"] == "https":
            extra += OVER_TLS
        if b"authorization" in headers and scope["method"] == "GET":
            extra += OF_A_SHOP
        if self.draining:
            extra += _CLOSE
        if self.cross_origin:
            extra += self.cross_origin.headers(headers.get(b"origin"))
        if b"traceparent" in headers or self._spans is not None:
            extra += self._traced(scope, headers)
        return extra

    def _traced(self, scope: Scope, headers: HeaderMap) -> Headers:
        sent = headers.get(b"traceparent")
        trace = None if sent is None else trace_of(sent)
        if self._spans is not None:
            trace = self._spans.begin(scope, trace)
        if trace is None:
            return ()
        scope["trace"] = trace
        return ((b"traceresponse", trace.response),)

    async def admit(self, scope: Scope, headers: HeaderMap) -> Headers:
        """Count a request against the limits; 429 and 503 for one too many."""
        if self.busy > self._at_once:
            raise _full("at_once", f"{self._at_once} requests are being worked on.")
        arrived = scope.get("arrived")
        if arrived is not None and monotonic() - arrived > self._longest_wait:
            raise _full("wait", "The request waited too long for its turn.")
        if not self._limited or scope["method"] == "OPTIONS":
            return ()
        authorization = headers.get(b"authorization")
        if authorization is not None and authorization in self._good_keys:
            counter, who = self._per_key, authorization
        else:
            counter, who = self._per_address, household((scope.get("client") or ("",))[0])
        if counter is None:
            return ()
        cost = 1
        if scope["method"] != "GET":
            length = headers.get(b"content-length")
            if length is None or len(length) > 4:
                cost = cost_of(length, counter.policy.quota)
        now = time()
        left = counter.take(who, cost, now)
        if left is None:
            left = await counter.take_leased(self._source, who, cost, now)
        if left < 0:
            raise _too_many(counter, now)
        return counter.headers(left, now)

    def leave(self, scope: Scope, headers: HeaderMap, status: int, begun: float) -> None:
        """Count a request that is done, and write its line; status 0 where none was answered."""
        seconds = perf_counter() - begun
        handler = scope.get("route_handler")
        key = (id(handler), scope["method"], status)
        seen = self._seen.get(key)
        if seen is None:
            seen = self._see(handler, scope["method"], status)
        timer, middle = seen
        timer.add(seconds)
        if b"authorization" in headers:
            self._note_key(scope, headers[b"authorization"], status)
        if self._lines is not None:
            self._lines.write(scope, middle, seconds)
        if self._spans is not None:
            self._spans.end(scope, self._names[id(handler)], status)

    def _see(self, handler: Any, method: str, status: int) -> tuple[metrics.Timer, bytes]:
        """What all requests of one operation and status share; made for the first of them."""
        name = self._names.setdefault(id(handler), _operation(handler))
        if handler is None:
            method = method if method in _METHODS else "other"
        seen = (metrics.request_timer(name, status), middle_of(name, method, status))
        if len(self._seen) < 10_000:
            self._seen[id(handler), method, status] = seen
        return seen

    def _note_key(self, scope: Scope, authorization: bytes, status: int) -> None:
        """A key is good once something was answered to it, and no longer once it was refused."""
        if status == 401:
            self._good_keys.discard(authorization)
        elif 200 <= status < 300 and "caller" in scope:
            self._good_keys.add(authorization)


_METHODS = ("GET", "HEAD", "POST", "PUT", "PATCH", "DELETE", "OPTIONS")


def with_extra(head: list[tuple[bytes, bytes]], extra: Headers) -> list[tuple[bytes, bytes]]:
    """An answer's headers with more of them, but for those that it has itself."""
    if len(head) <= 2:  # nothing but what describes the body: nearly every answer
        return [*head, *extra]
    own = {name for name, _ in head}
    return [*head, *[pair for pair in extra if pair[0] not in own or pair[0] == b"vary"]]


def _counter(name: str, rate: tuple[int, int] | None) -> Counter | None:
    return None if rate is None else Counter(Policy(name, *rate))


def _full(why: str, detail: str) -> ProblemError:
    metrics.count("turned_away", why)
    return ProblemError(UNAVAILABLE, detail, headers={"Retry-After": "1"})


def _too_many(counter: Counter, now: float) -> ProblemError:
    policy = counter.policy
    metrics.count("rate_limited", policy.name)
    told: MutableMapping[str, str] = {
        name.decode(): value.decode() for name, value in counter.headers(0, now)
    }
    told["Retry-After"] = str(counter.turns_in(now))
    whose = "this key" if policy.name == "key" else "this address"
    detail = f"{whose.capitalize()} may ask {policy.quota} times in {policy.window} seconds."
    return ProblemError(RATE_LIMITED, detail, headers=told)


def _operation(handler: Any) -> str:
    """The name of an operation as in the document; "none" where no resource was reached."""
    if handler is None:
        return "none"
    first, *rest = str(handler.handler_name).split("_")
    return first + "".join(word.capitalize() for word in rest)
