"""Spans for OpenTelemetry, where the extra `axlewright[otel]` is installed and an endpoint is set.

One server span a request, child of the `traceparent` that came in; its ids are those of the log
line and of the answer. Sampling follows the caller's decision; the usual `OTEL_*` variables set
the rest (`OTEL_TRACES_SAMPLER`, `OTEL_RESOURCE_ATTRIBUTES`).
"""

from typing import Any

import service
from service.api.tracing import Trace
from service.contract.asgi import Scope
from service.setting_rules import SettingsError


class Spans:
    """Makes a span of each request and sends them in batches."""

    def __init__(self, endpoint: str, exporter: Any = None) -> None:
        try:
            from opentelemetry import trace
            from opentelemetry.exporter.otlp.proto.http.trace_exporter import OTLPSpanExporter
            from opentelemetry.sdk.resources import Resource
            from opentelemetry.sdk.trace import TracerProvider
            from opentelemetry.sdk.trace.export import BatchSpanProcessor
        except ImportError:
            hint = "install axlewright[otel], which brings OpenTelemetry, or leave it unset"
            raise SettingsError(f"AXLEWRIGHT_OTLP_ENDPOINT: {hint}.") from None
        named = {"service.name": "axlewright", "service.version": service.__version__}
        self._provider = TracerProvider(resource=Resource.create(named))
        exporter = exporter or OTLPSpanExporter(endpoint=endpoint)
        self._provider.add_span_processor(BatchSpanProcessor(exporter))
        self._tracer = self._provider.get_tracer("axlewright", service.__version__)
        self._api = trace

    def begin(self, scope: Scope, sent: Trace | None) -> Trace:
        """Open the span of a request, under the one that was sent; returns its ids."""
        api = self._api
        above = None
        if sent is not None:
            parent = api.SpanContext(
                int(sent.trace_id, 16),
                int(sent.parent_id, 16),
                True,
                api.TraceFlags(int(sent.flags, 16)),
            )
            above = api.set_span_in_context(api.NonRecordingSpan(parent))
        span = self._tracer.start_span(
            scope["method"],
            context=above,
            kind=api.SpanKind.SERVER,
            attributes={
                "http.request.method": scope["method"],
                "url.path": scope["path"],
                "url.scheme": scope["scheme"],
                "client.address": (scope.get("client") or ("",))[0],
                "axlewright.request_id": scope["request_id"].decode(),
            },
        )
        scope["span"] = span
        own = span.get_span_context()
        return Trace(
            b"%032x" % own.trace_id,
            b"0" * 16 if sent is None else sent.parent_id,
            b"%016x" % own.span_id,
            b"%02x" % own.trace_flags,
        )

    def end(self, scope: Scope, operation: str, status: int) -> None:
        """Close the span of a request that is done."""
        span = scope.get("span")
        if span is None:
            return
        span.update_name(f"{scope['method']} {operation}")
        span.set_attribute("http.response.status_code", status)
        caller = scope.get("caller")
        if caller is not None and caller.proved:
            span.set_attribute("axlewright.shop", str(caller.shop))
        if status >= 500:
            span.set_status(self._api.StatusCode.ERROR)
        span.end()

    def close(self) -> None:
        """Send what is left."""
        self._provider.shutdown()
