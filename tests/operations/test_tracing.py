"""W3C Trace Context and OpenTelemetry: https://www.w3.org/TR/trace-context/ (level 1)."""

import gzip
import sys
import threading
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import Any, ClassVar

import httpx
import pytest
from asking import ask
from hypothesis import given
from hypothesis import strategies as st
from running import serving

from service.api.telemetry import Spans
from service.api.tracing import begun_for, trace_of
from service.app import create_app
from service.setting_rules import SettingsError
from service.settings import Settings

SENT = b"00-4bf92f3577b34da6a3ce929d0e0e4736-00f067aa0ba902b7-01"
"""The example of section 3.2.2.5 of the recommendation."""

VOID = {
    "zero trace id": b"00-00000000000000000000000000000000-00f067aa0ba902b7-01",
    "zero parent id": b"00-4bf92f3577b34da6a3ce929d0e0e4736-0000000000000000-01",
    "version ff": b"ff-4bf92f3577b34da6a3ce929d0e0e4736-00f067aa0ba902b7-01",
    "upper case": b"00-4BF92F3577B34DA6A3CE929D0E0E4736-00f067aa0ba902b7-01",
    "more in version 00": SENT + b"-more",
    "too short": SENT[:-1],
    "no hexadecimal": SENT.replace(b"4bf9", b"4bg9"),
    "empty": b"",
}


def test_a_request_continues_the_trace_it_came_with() -> None:
    answer = ask(create_app(Settings()), "GET", "/health/live", headers=[(b"traceparent", SENT)])
    version, trace_id, span_id, flags = answer.headers["traceresponse"].split("-")
    assert (version, trace_id, flags) == ("00", SENT.decode().split("-")[1], "01")
    assert span_id != SENT.decode().split("-")[2]
    assert len(span_id) == 16


def test_a_version_to_come_is_read_by_its_first_four_fields() -> None:
    assert trace_of(SENT.replace(b"00-4b", b"cc-4b") + b"-what-comes") is not None


@pytest.mark.parametrize("sent", VOID.values(), ids=VOID)
def test_a_void_traceparent_is_passed_over(sent: bytes) -> None:
    answer = ask(create_app(Settings()), "GET", "/health/live", headers=[(b"traceparent", sent)])
    assert answer.status == 200
    assert "traceresponse" not in answer.headers


@given(st.binary(max_size=80))
def test_no_traceparent_breaks_anything(sent: bytes) -> None:
    trace = trace_of(sent)
    assert trace is None or trace_of(trace.response) is not None


def test_what_the_service_begins_can_be_continued() -> None:
    trace = trace_of(begun_for("4bf92f3577b34da6a3ce929d0e0e4736").encode())
    assert trace is not None
    assert trace.trace_id == b"4bf92f3577b34da6a3ce929d0e0e4736"


class Kept:
    """An exporter that keeps what is sent."""

    def __init__(self) -> None:
        from opentelemetry.sdk.trace.export.in_memory_span_exporter import InMemorySpanExporter

        self.exporter = InMemorySpanExporter()


@pytest.fixture
def spans() -> Any:
    kept = Kept()
    app = create_app(Settings())
    app.watch._spans = Spans("http://collector.example/v1/traces", kept.exporter)
    return app, kept.exporter


def test_a_request_is_a_server_span_under_the_one_that_was_sent(spans: Any) -> None:
    app, exporter = spans
    answer = ask(app, "GET", "/health/live", headers=[(b"traceparent", SENT)])
    app.watch._spans.close()
    [span] = exporter.get_finished_spans()
    assert span.name == "GET getLiveness"
    assert f"{span.context.trace_id:032x}" == SENT.decode().split("-")[1]
    assert f"{span.parent.span_id:016x}" == SENT.decode().split("-")[2]
    assert f"{span.context.span_id:016x}" in answer.headers["traceresponse"]
    assert span.attributes["http.response.status_code"] == 200
    assert span.attributes["axlewright.request_id"] == answer.headers["request-id"]


def test_a_request_without_a_trace_begins_one(spans: Any) -> None:
    app, exporter = spans
    ask(app, "GET", "/nothing")
    app.watch._spans.close()
    [span] = exporter.get_finished_spans()
    assert span.parent is None
    assert span.name == "GET none"


class Collector(BaseHTTPRequestHandler):
    """Takes what is sent to it and keeps it."""

    got: ClassVar[list[tuple[str, str, bytes]]] = []

    def do_POST(self) -> None:
        body = self.rfile.read(int(self.headers["content-length"]))
        self.got.append((self.path, self.headers["content-type"], body))
        self.send_response(200)
        self.end_headers()

    def log_message(self, *_arguments: Any) -> None:
        """Be quiet."""


@pytest.mark.anyio
async def test_spans_arrive_at_the_endpoint_of_the_settings(sqlite_url: str) -> None:
    collector = ThreadingHTTPServer(("127.0.0.1", 0), Collector)
    threading.Thread(target=collector.serve_forever, daemon=True).start()
    endpoint = f"http://127.0.0.1:{collector.server_port}/v1/traces"
    settings = Settings(database_url=sqlite_url, otlp_endpoint=endpoint)
    async with serving(settings) as running, httpx.AsyncClient() as client:
        sent = {"traceparent": SENT.decode()}
        await client.get(f"http://127.0.0.1:{running.port}/health/live", headers=sent)
    collector.shutdown()
    path, media_type, body = Collector.got[0]
    assert (path, media_type) == ("/v1/traces", "application/x-protobuf")
    plain = gzip.decompress(body) if body[:2] == b"\x1f\x8b" else body
    assert b"GET getLiveness" in plain
    assert bytes.fromhex(SENT.decode().split("-")[1]) in plain


def test_an_endpoint_without_the_extra_is_refused_with_its_name(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setitem(sys.modules, "opentelemetry", None)
    with pytest.raises(SettingsError, match=r"AXLEWRIGHT_OTLP_ENDPOINT: .*axlewright\[otel\]"):
        Spans("http://collector.example/v1/traces")
