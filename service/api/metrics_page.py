"""`/metrics`: what the service counts, as Prometheus reads it, for the operator's networks."""

import logging
from collections.abc import Iterator, Sequence
from functools import cache
from typing import Any

from litestar import Request, get
from litestar.datastructures import State

import service
from service.api import metrics
from service.api.addresses import Networks
from service.api.watch import Watch
from service.contract.problem_catalogue import NOT_FOUND
from service.contract.problems import ProblemError
from service.contract.replies import Reply
from service.store.database import Store
from service.store.errors import StoreError

_log = logging.getLogger("service")

EVENTS = {
    "rate_limited": ("by", "Requests refused with 429 because a key or an address asked too much"),
    "turned_away": ("why", "Requests and connections refused with 503 because of load"),
    "cut_off": ("why", "Connections closed because the client was too slow or sent too much"),
    "deliveries": ("result", "Tries to deliver an event to a webhook endpoint"),
    "store_failures": ("", "Requests answered 503 because the store could not be reached"),
}
GAUGES = {
    "requests_in_progress": "Requests being worked on",
    "connections_open": "Open connections of clients",
    "log_lines_waiting": "Log lines not yet written",
    "database_connections_in_use": "Connections to the database that work runs on",
    "database_connections_open": "Connections to the database that are open",
    "database_work_waiting": "Pieces of work that wait for the database",
}


class MetricsPage:
    """Puts the page together when it is asked for."""

    def __init__(self, watch: Watch, networks: Sequence[str]) -> None:
        self._watch = watch
        self.seen_from = Networks(networks)

    async def text(self, store: Store | None) -> bytes:
        """The page; where the database does not answer, its own figures are missing."""
        own = metrics.counts(self._watch.gauges())
        shared = self._watch.shared
        every = own if shared is None else shared.with_others(own)
        return _written(every, await _outbox(store))


async def _outbox(store: Store | None) -> tuple[int, float] | None:
    if store is None:
        return None
    try:
        return await store.outbox()
    except StoreError as error:
        _log.warning("the outbox cannot be looked at: %s", error)
        return None


@get("/metrics", include_in_schema=False, opt={"produces": ("text/plain",)})
async def get_metrics(request: Request[Any, Any, Any], state: State) -> Reply[bytes]:
    """The page, for addresses of `metrics_from`; for others there is nothing here."""
    page: MetricsPage = state["metrics_page"]
    client = request.scope.get("client")
    if client is None or not page.seen_from.hold(client[0]):
        raise ProblemError(NOT_FOUND, "There is nothing at this address.")
    body = await page.text(state.get("store"))
    return Reply(body, media_type="text/plain; version=0.0.4; charset=utf-8")


@cache
def _library() -> Any:
    # Imported here: no other request needs it.
    import prometheus_client.core

    return prometheus_client


def _written(counts: metrics.Counts, outbox: tuple[int, float] | None) -> bytes:
    library = _library()

    class Page:
        def collect(self) -> Iterator[Any]:
            return _families(counts, outbox, library.core)

    registry = library.CollectorRegistry()
    registry.register(Page())
    library.ProcessCollector(registry=registry)
    library.PlatformCollector(registry=registry)
    page: bytes = library.generate_latest(registry)
    return page


def _families(counts: metrics.Counts, outbox: tuple[int, float] | None, core: Any) -> Iterator[Any]:
    yield from _of_requests(counts, core)
    solving = core.HistogramMetricFamily(
        "axlewright_solve_duration_seconds", "Time to solve one vehicle's readings", labels=()
    )
    _add(solving, (), counts.solving, metrics.SOLVE_BOUNDS)
    yield solving
    for event, (label, text) in EVENTS.items():
        family = core.CounterMetricFamily(
            f"axlewright_{event}", text, labels=[label] if label else []
        )
        for name, of, number in counts.events:
            if name == event:
                family.add_metric([of] if label else [], number)
        yield family
    dropped = core.CounterMetricFamily("axlewright_log_lines_dropped", "Log lines not written")
    dropped.add_metric([], counts.gauges.get("log_lines_dropped", 0))
    yield dropped
    for name, text in GAUGES.items():
        if name in counts.gauges:
            yield core.GaugeMetricFamily(f"axlewright_{name}", text, counts.gauges[name])
    if outbox is not None:
        text = "Webhook deliveries that have not arrived, of every shop"
        yield core.GaugeMetricFamily("axlewright_outbox_pending", text, outbox[0])
        text = "How long the most overdue delivery or event has waited beyond its time"
        yield core.GaugeMetricFamily("axlewright_outbox_lag_seconds", text, outbox[1])
    up = core.GaugeMetricFamily("axlewright_database_up", "Whether the database answers")
    up.add_metric([], float(outbox is not None))
    yield up
    yield core.InfoMetricFamily("axlewright_build", "The service", {"version": service.__version__})


def _of_requests(counts: metrics.Counts, core: Any) -> Iterator[Any]:
    total = core.CounterMetricFamily(
        "axlewright_requests",
        "Requests by operation and status; 0: cut off before the answer",
        labels=("operation", "status"),
    )
    times: dict[str, metrics.Tally] = {}
    for operation, status, tally in counts.requests:
        total.add_metric((operation, str(status)), sum(tally.counts))
        there = times.get(operation)
        times[operation] = tally if there is None else there.plus(tally)
    yield total
    duration = core.HistogramMetricFamily(
        "axlewright_request_duration_seconds", "Time to answer", labels=("operation",)
    )
    for operation, tally in times.items():
        _add(duration, (operation,), tally, metrics.REQUEST_BOUNDS)
    yield duration


def _add(family: Any, labels: Sequence[str], tally: metrics.Tally, bounds: Sequence[float]) -> None:
    """Add a histogram whose buckets count everything up to their bound."""
    running, buckets = 0, []
    for bound, number in zip([*map(str, bounds), "+Inf"], tally.counts, strict=True):
        running += number
        buckets.append((bound, running))
    family.add_metric(labels, buckets, tally.total)
