"""Structured logs: one JSON object a line, one line a request, and nothing secret in any."""

import logging
import re
from collections.abc import Sequence
from datetime import UTC, datetime
from time import time

import msgspec

from service.api.lines import LineWriter
from service.contract.asgi import Scope

_encode = msgspec.json.Encoder().encode

_TOKENS = re.compile(r"axw_[\w-]+\.[\w-]+\.[\w-]+|whsec_[\w+/=-]+|(?i:bearer )[\w.~+/=-]{8,}")

LONGEST_PATH = 1000
"""Characters of an address that are logged."""


class RequestLines:
    """Writes the line of each request; most of it is put together once for many requests."""

    def __init__(self, lines: LineWriter) -> None:
        self._write = lines.write
        self._second = 0
        self._time = b""

    def write(self, scope: Scope, middle: bytes, seconds: float) -> None:
        """Write the line of a request; `middle` names its operation, method and status."""
        client = scope.get("client")
        trace = scope.get("trace")
        caller = scope.get("caller")
        self._write(
            b'{"time":"%b","level":"info","event":"request","request_id":"%b",%b,"path":%b,'
            b'"duration_ms":%.3f,"client":%b%b%b}'
            % (
                self._now(),
                scope["request_id"],
                middle,
                _encode(scope["path"][:LONGEST_PATH]),
                seconds * 1e3,
                _encode(client[0]) if client else b"null",
                b"" if caller is None else caller.in_log,
                b"" if trace is None else trace.in_log,
            )
        )

    def _now(self) -> bytes:
        """The time in UTC to the millisecond; what changes once a second is written once."""
        now = time()
        second = int(now)
        if second != self._second:
            self._second = second
            self._time = datetime.fromtimestamp(second, UTC).strftime("%Y-%m-%dT%H:%M:%S").encode()
        return b"%b.%03dZ" % (self._time, int((now - second) * 1e3))


def middle_of(operation: str, method: str, status: int) -> bytes:
    """The part of a request's line that is the same for many."""
    fields = {"operation": operation, "method": method, "status": status}
    return _encode(fields)[1:-1]


class JsonHandler(logging.Handler):
    """Writes what the standard logging is given, a JSON object a line, without what is secret."""

    def __init__(self, lines: LineWriter, secrets: Sequence[str] = ()) -> None:
        super().__init__()
        self._lines = lines
        self._secrets = sorted(secrets, key=len, reverse=True)
        self._tracebacks = logging.Formatter()

    def emit(self, record: logging.LogRecord) -> None:
        """Write a record; one that cannot be written is a fault told on the error stream."""
        try:
            self._lines.write(_encode(self._fields(record)))
        except Exception:
            self.handleError(record)

    def _fields(self, record: logging.LogRecord) -> dict[str, object]:
        at = datetime.fromtimestamp(record.created, UTC)
        fields: dict[str, object] = {
            "time": at.isoformat(timespec="milliseconds").replace("+00:00", "Z"),
            "level": record.levelname.lower(),
            "event": getattr(record, "event", "message"),
            "logger": record.name,
            "message": self.blotted(record.getMessage()),
        }
        fields |= getattr(record, "fields", {})
        if record.exc_info and record.exc_info[0] is not None:
            fields["exception"] = self.blotted(self._tracebacks.formatException(record.exc_info))
        return fields

    def blotted(self, text: str) -> str:
        """A text without passwords of the settings, keys and webhook secrets."""
        for secret in self._secrets:
            text = text.replace(secret, "***")
        return _TOKENS.sub("***", text).encode("utf-8", "backslashreplace").decode()
