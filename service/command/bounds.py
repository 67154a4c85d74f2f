"""What one connection may take: bytes of a head, seconds of a head, a body and an answer.

The server's HTTP/1.1 waits for ever for a head, a body or a client that stops reading. Here each
connection notes when it began to wait, which costs a request next to nothing, and one look over
all connections twice a second (`sweep`) ends those that waited too long.
"""

from time import monotonic
from typing import Any, ClassVar, NamedTuple

from service.api import metrics
from service.api.refusals import refusal
from service.command.one_write import OneWrite
from service.command.protocol import PlainHttpProtocol
from service.contract.asgi import Application
from service.contract.problem_catalogue import HEAD_TOO_LARGE, NOT_HTTP, TOO_SLOW
from service.contract.problems import ProblemError
from service.settings import Settings

RATE = 32 * 1024
"""Bytes of a body that earn it one second more."""
LINGER = 0.25
"""Seconds that a connection without a request is kept when the server stops: what the client had
sent by then is in the system's buffers and would be lost without a word."""
POLITE = 100
"""Connections over the limit that are still told 503; beyond them a connection is just closed."""


class Bounds(NamedTuple):
    """The limits of every connection of a process, and what answers to those over the limit."""

    head_bytes: int
    head_seconds: float
    body_seconds: float
    send_seconds: float
    connections: int
    surplus: Application

    @classmethod
    def of(cls, settings: Settings, surplus: Application) -> "Bounds":
        """The bounds that settings ask for."""
        return cls(
            settings.head_limit,
            settings.head_seconds,
            settings.body_seconds,
            settings.send_seconds,
            settings.connections,
            surplus,
        )


class BoundedHttpProtocol(PlainHttpProtocol):
    """One connection that keeps its bounds. `bounded` makes the class that a server is given."""

    bounds: ClassVar[Bounds]

    def connection_made(self, transport: Any) -> None:
        """Take a connection, or one too many to be told so."""
        super().connection_made(transport)
        self._refused = False
        self._leaving = False
        self._fresh = False
        self._packet = 0
        self._head_bytes = 0
        self._body_bytes = 0
        self._head_since = monotonic()
        self._body_since = 0.0
        self._unsent_since = 0.0
        over = len(self.connections) - self.bounds.connections
        if over > 0:
            self.app = self.bounds.surplus
            if over > POLITE:
                metrics.count("turned_away", "connections")
                self._refused = True
                transport.abort()

    def data_received(self, data: bytes) -> None:
        """Read what came, unless the connection is done for."""
        if self._refused:
            return
        self._packet = len(data)
        super().data_received(data)
        if self._refused or self._body_since or self.transport.is_closing():
            return
        if self._head_since:
            limit = self.bounds.head_bytes
            # What came before the head in the packet that it begins in is not held against it.
            self._head_bytes += min(self._packet, limit) if self._fresh else self._packet
            self._fresh = False
            if self._head_bytes > limit:
                self._refuse_head()
        elif self.cycle is None or self.cycle.response_complete:
            self._head_since = monotonic()  # empty lines: a request must follow

    def on_message_begin(self) -> None:
        """A request's line begins."""
        super().on_message_begin()
        self._fresh = True
        self._head_bytes = 0
        self._head_since = self._head_since or monotonic()

    def on_headers_complete(self) -> None:
        """Hand a request on whose head is not too large."""
        if self._refused:
            return
        if self._head_bytes + self._packet > self.bounds.head_bytes and self._head_is_large():
            self._refuse_head()
            return
        now = monotonic()
        self._head_since, self._body_since, self._body_bytes = 0.0, now, 0
        self.scope["arrived"] = now  # type: ignore[typeddict-unknown-key]
        super().on_headers_complete()

    def on_answer_begun(self) -> None:
        """Have the answer written at once, and be the last one if the server stops."""
        if self.scope["method"] != "HEAD":  # nothing follows the head of its answer
            self.cycle.transport = OneWrite(self.transport)  # type: ignore[assignment]
        if self._leaving:
            self.cycle.keep_alive = False

    def _head_is_large(self) -> bool:
        size = len(self.url) + sum(len(name) + len(value) + 4 for name, value in self.headers)
        return size > self.bounds.head_bytes

    def on_body(self, body: bytes) -> None:
        """Count what came of a body."""
        if self._refused:
            return
        self._body_bytes += len(body)
        super().on_body(body)

    def on_message_complete(self) -> None:
        """A request is whole."""
        if self._refused:
            return
        self._body_since = 0.0
        super().on_message_complete()

    def send_400_response(self, msg: str) -> None:
        """Refuse what is not HTTP."""
        if not self._refused:
            self._refuse(ProblemError(NOT_HTTP, "The bytes that came are no request of HTTP/1.1."))

    def pause_writing(self) -> None:
        """The client does not take what it is sent."""
        self._unsent_since = self._unsent_since or monotonic()
        super().pause_writing()

    def resume_writing(self) -> None:
        """The client took most of what it was sent."""
        self._unsent_since = 0.0
        super().resume_writing()

    def shutdown(self) -> None:
        """The server stops: answer what has begun, and what may be on its way in a moment."""
        self._leaving = True
        if self.cycle is None or self.cycle.response_complete:
            self.loop.call_later(LINGER, self._leave)
        else:
            super().shutdown()

    def _leave(self) -> None:
        """Close, unless a request has begun in the meantime: its answer closes then."""
        begun = self._head_since and self._head_bytes
        if not (begun or self._body_since or self.transport.is_closing()):
            super().shutdown()

    def look(self, now: float) -> None:
        """End the connection if it has waited too long for its client."""
        bounds = self.bounds
        unsent = self.transport.get_write_buffer_size()
        if not unsent:
            self._unsent_since = 0.0
        elif not self._unsent_since:
            self._unsent_since = now
        elif now - self._unsent_since > bounds.send_seconds:
            self._cut_off("send")
        if self.transport.is_closing() or self.flow.read_paused:
            return
        if self._body_since:
            patience = bounds.body_seconds + self._body_bytes / RATE
            if now - self._body_since > patience:
                self._too_slow("body", "The body did not arrive in time.")
        elif self._head_since and now - self._head_since > bounds.head_seconds:
            self._too_slow("head", "The head of a request did not arrive in time.")

    def _too_slow(self, why: str, detail: str) -> None:
        answered = self.cycle is not None and self.cycle.response_started
        if why == "body" and answered:
            self._cut_off(why)
            return
        metrics.count("cut_off", why)
        if why == "head" and not self._head_bytes:
            self.transport.close()  # nothing was asked, so nothing is answered
            return
        self._refuse(ProblemError(TOO_SLOW, detail))

    def _cut_off(self, why: str) -> None:
        metrics.count("cut_off", why)
        self._refused = True
        self.transport.abort()

    def _refuse_head(self) -> None:
        metrics.count("cut_off", "head_size")
        detail = f"The line and headers of a request may have {self.bounds.head_bytes} bytes."
        self._refuse(ProblemError(HEAD_TOO_LARGE, detail))

    def _refuse(self, problem: ProblemError) -> None:
        """Answer what no resource sees, where that is still possible, and close."""
        self._refused = True
        cycle = self.cycle
        waits = self._body_since and cycle is not None and not cycle.response_started
        if cycle is None or cycle.response_complete or waits:
            self.transport.write(refusal(problem, self.server_state.default_headers))
        self.transport.close()


def bounded(bounds: Bounds) -> type[BoundedHttpProtocol]:
    """The class of a server's connections."""
    return type("HttpProtocol", (BoundedHttpProtocol,), {"bounds": bounds})


def sweep(connections: Any) -> None:
    """Look at every connection; ends those that waited too long for their client."""
    now = monotonic()
    for connection in list(connections):
        connection.look(now)
