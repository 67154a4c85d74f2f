"""`/metrics`, read back by the parser of prometheus-client."""

import json
import os
import subprocess
import sys
from pathlib import Path
from typing import Any

import msgspec
import pytest
from asking import answer_of, scope_of
from prometheus_client.parser import text_string_to_metric_families
from served import READINGS

from service.api import metrics
from service.api.metrics import Counts, Tally, Timer, counts
from service.api.shared_counts import SharedCounts
from service.app import create_app
from service.settings import Settings
from service.store.database import open_store

pytestmark = pytest.mark.anyio


async def samples(app: Any) -> dict[tuple[str, tuple[tuple[str, str], ...]], float]:
    """Every sample of the page by its name and labels."""
    answer = await answer_of(app, "GET", "/metrics", headers=[])
    assert answer.status == 200
    assert answer.headers["content-type"].startswith("text/plain; version=0.0.4")
    return {
        (sample.name, tuple(sorted(sample.labels.items()))): sample.value
        for family in text_string_to_metric_families(answer.body.decode())
        for sample in family.samples
    }


def requests(found: dict[Any, float], operation: str, status: int) -> float:
    labels = (("operation", operation), ("status", str(status)))
    return found.get(("axlewright_requests_total", labels), 0.0)


@pytest.fixture
def app(sqlite_url: str) -> Any:
    return create_app(Settings(database_url=sqlite_url))


async def test_requests_are_counted_by_operation_and_status(app: Any) -> None:
    before = await samples(app)
    for _ in range(3):
        await answer_of(app, "GET", "/health/live")
    await answer_of(app, "GET", "/no/such/thing/1")
    await answer_of(app, "GET", "/no/such/thing/2")
    after = await samples(app)
    assert requests(after, "getLiveness", 200) - requests(before, "getLiveness", 200) == 3
    assert requests(after, "none", 404) - requests(before, "none", 404) == 2
    assert not [key for key in after if "thing" in str(key)]


async def test_a_latency_lies_in_every_bucket_above_it_and_in_the_sum(app: Any) -> None:
    await answer_of(app, "GET", "/health/live")
    found = await samples(app)
    of = (("operation", "getLiveness"),)
    buckets = [
        (float(dict(labels)["le"]), value)
        for (name, labels), value in found.items()
        if name == "axlewright_request_duration_seconds_bucket" and of[0] in labels
    ]
    assert [value for _, value in sorted(buckets)] == sorted(value for _, value in buckets)
    assert max(buckets)[1] == found["axlewright_request_duration_seconds_count", of] >= 1
    assert found["axlewright_request_duration_seconds_sum", of] > 0


async def test_solving_is_timed_by_itself(app: Any) -> None:
    before = (await samples(app))["axlewright_solve_duration_seconds_count", ()]
    answer = await answer_of(app, "POST", "/v1/solutions", msgspec.json.encode(READINGS))
    assert answer.status == 200
    after = await samples(app)
    assert after["axlewright_solve_duration_seconds_count", ()] == before + 1


async def test_the_page_tells_how_the_database_and_its_outbox_stand(sqlite_url: str) -> None:
    app, store = create_app(Settings(database_url=sqlite_url)), open_store(sqlite_url)
    await store.open()
    app.app.state["store"] = app.watch.store = store
    await store.ready()
    found = await samples(app)
    assert found["axlewright_database_up", ()] == 1
    assert found["axlewright_outbox_pending", ()] == 0
    assert found["axlewright_outbox_lag_seconds", ()] == 0
    assert found["axlewright_database_connections_open", ()] >= 1
    await store.close()
    found = await samples(app)
    assert found["axlewright_database_up", ()] == 0
    assert ("axlewright_outbox_pending", ()) not in found


async def test_the_page_names_the_version_and_the_memory_of_the_process(app: Any) -> None:
    import service

    found = await samples(app)
    assert found["axlewright_build_info", (("version", service.__version__),)] == 1
    if sys.platform == "linux":
        assert found["process_resident_memory_bytes", ()] > 10_000_000


async def test_for_strangers_there_is_no_page() -> None:
    app, sent = create_app(Settings(metrics_from=("10.0.0.0/8",))), []

    async def receive() -> Any:
        return {"type": "http.request", "body": b"", "more_body": False}

    async def send(message: Any) -> None:
        sent.append(message)

    await app(scope_of("GET", "/metrics"), receive, send)
    assert sent[0]["status"] == 404
    assert b"axlewright_" not in sent[1]["body"]


async def test_a_proxy_that_is_trusted_does_not_open_the_page_to_its_clients() -> None:
    app = create_app(Settings(trusted_proxies=("127.0.0.0/8",)))
    headers = [(b"x-forwarded-for", b"203.0.113.9")]
    assert (await answer_of(app, "GET", "/metrics", headers=headers)).status == 404


async def test_refusals_are_counted_by_whom_they_met() -> None:
    app = create_app(Settings(compute_open=True, rate_per_address="1/3600"))
    before = await samples(app)
    for _ in range(3):
        await answer_of(app, "GET", "/v1/target-sets")
    after = await samples(app)
    key = ("axlewright_rate_limited_total", (("by", "address"),))
    assert after[key] - before.get(key, 0.0) == 2


def test_a_tally_counts_each_once_by_its_bound() -> None:
    timer = Timer((1.0, 2.0))
    for seconds in (0.5, 1.0, 1.5, 9.0):
        timer.add(seconds)
    assert (timer.tally.counts, timer.tally.total) == ([2, 1, 1], 12.0)


def told(number: int) -> Counts:
    return Counts(
        [("op", 200, Tally([number], 1.0))], Tally([0]), [("cut_off", "head", 1)], {"busy": 2.0}
    )


def test_processes_add_up_with_the_gauges_of_those_that_live(tmp_path: Path) -> None:
    dead = subprocess.Popen([sys.executable, "-c", ""])
    dead.wait()
    encode = msgspec.json.Encoder().encode
    (tmp_path / f"{dead.pid}.json").write_bytes(encode(told(5)))
    (tmp_path / f"{os.getppid()}.json").write_bytes(encode(told(7)))
    (tmp_path / "junk.json").write_text("{")
    shared = SharedCounts(tmp_path)
    shared.tell(told(100))
    total = shared.with_others(told(1))
    assert total.requests == [("op", 200, Tally([13], 3.0))]
    assert total.events == [("cut_off", "head", 3)]
    assert total.gauges == {"busy": 4.0}


def test_what_is_told_can_be_read_back(tmp_path: Path) -> None:
    metrics.count("turned_away", "at_once")
    SharedCounts(tmp_path).tell(counts({"busy": 1.0}))
    [file] = tmp_path.glob("*.json")
    assert ["turned_away", "at_once"] in [e[:2] for e in json.loads(file.read_bytes())["events"]]
