"""The server of one process: uvicorn with bounded connections and a stop that loses nothing."""

import asyncio
import gc
import io
import logging
import signal
import sys
from collections.abc import Generator
from contextlib import contextmanager
from socket import socket
from time import monotonic
from types import FrameType

import uvicorn

import service
from service.api.door import Door
from service.api.lines import ALONE, PIECE, LineWriter
from service.api.logs import JsonHandler
from service.app import create_app
from service.command.bounds import Bounds, bounded, sweep
from service.command.listening import BACKLOG
from service.settings import Settings, secrets_in

_log = logging.getLogger("service")

CANNOT_START = 3
"""Exit code of a process whose application did not start."""
SETTLE_SECONDS = 2.0
"""After that long the heap of the start is tidied up once, and not looked at again."""
SWEEP_TICKS = 5
"""The server's main loop ticks ten times a second; connections are looked at twice."""
FEW_COLLECTIONS = 20_000
"""So many more containers made than given back call for a collection. Requests leave next to no
cycles behind; at Python's own 700, looking for them took a twentieth of the time of solving."""
LEAST_DRAIN = 0.5
"""Seconds in which every busy client hears `Connection: close` with an answer, at the least."""


class Server(uvicorn.Server):
    """Serves on sockets of its own, sweeps its connections, and stops in two steps.

    The first signal to terminate turns readiness red and closes each connection with its next
    answer, while new ones are still taken, for `drain_seconds`; then nothing new is taken, what
    has begun is finished, and the process ends with exit code 0. An interrupt (Ctrl-C) skips the
    first step, a second one what is unfinished.
    """

    def __init__(self, config: uvicorn.Config, door: Door, settings: Settings) -> None:
        super().__init__(config)
        self._door = door
        self._handshake_seconds = settings.head_seconds
        self._drain_seconds = max(settings.drain_seconds, LEAST_DRAIN)
        self._stop_at = float("inf")
        door.watch.connections = lambda: len(self.server_state.connections)

    async def startup(self, sockets: list[socket] | None = None) -> None:
        """Start the application, then listen."""
        await self.lifespan.startup()
        if self.lifespan.should_exit:
            sys.exit(CANNOT_START)
        config, state = self.config, self.lifespan.state
        kind = config.http_protocol_class

        def connection() -> asyncio.Protocol:
            return kind(config=config, server_state=self.server_state, app_state=state)  # type: ignore[call-arg]

        patience = self._handshake_seconds if config.ssl else None
        loop = asyncio.get_running_loop()
        self.servers = [
            await loop.create_server(
                connection,
                sock=one,
                ssl=config.ssl,
                backlog=BACKLOG,
                ssl_handshake_timeout=patience,
            )
            for one in sockets or []
        ]
        self.started = True
        _log.info(
            "serving on %s",
            ", ".join(
                sorted(f"{one.getsockname()[0]}:{one.getsockname()[1]}" for one in sockets or [])
            ),
            extra={"event": "started", "fields": {"version": service.__version__}},
        )
        loop.call_later(SETTLE_SECONDS, _settle)

    async def shutdown(self, sockets: list[socket] | None = None) -> None:
        """Take the connections that wait to be taken, take no more, finish and end."""
        _log.info("stopping", extra={"event": "stopping"})
        for one in sockets or []:
            one.listen(0)  # whoever comes now is turned away by the system, and can ask elsewhere
        await asyncio.sleep(0.1)
        await super().shutdown(sockets)

    async def on_tick(self, counter: int) -> bool:
        """Look at the connections, and at whether it is time to stop."""
        if counter % SWEEP_TICKS == 0:
            sweep(self.server_state.connections)
        if monotonic() >= self._stop_at:
            self.should_exit = True
        return await super().on_tick(counter)

    @contextmanager
    def capture_signals(self) -> Generator[None]:
        """Let signals stop the server; none is raised again, so that the process ends with 0."""
        before = {one: signal.signal(one, self.handle_exit) for one in STOPPING}
        try:
            yield
        finally:
            for one, handler in before.items():
                signal.signal(one, handler)

    def handle_exit(self, sig: int, frame: FrameType | None) -> None:
        """Begin to stop; a second interrupt does not wait for what is unfinished."""
        if sig == signal.SIGINT:
            self.force_exit = self.should_exit
            self.should_exit = True
        if not self._door.watch.draining:
            self._door.watch.drain()
            self._stop_at = monotonic() + self._drain_seconds


def _settle() -> None:
    """Collect once, then keep what has been made until now out of every later collection."""
    if gc.isenabled():
        return  # somebody else's process, who did not turn it off for the start
    gc.collect()
    gc.freeze()
    gc.set_threshold(FEW_COLLECTIONS)
    gc.enable()


STOPPING = (signal.SIGINT, signal.SIGTERM)


def serve_on(sockets: list[socket], settings: Settings, counts: str | None = None) -> int:
    """Serve on bound sockets until a signal; `counts` is a folder shared with other processes."""
    piece = ALONE if counts is None else PIECE
    lines = LineWriter(io.FileIO(sys.stdout.fileno(), "wb", closefd=False), piece)
    _log_to(lines, settings)
    try:
        door = create_app(settings)
        if settings.request_log and settings.log_level in ("debug", "info"):
            door.watch.log_to(lines)
        if counts is not None:
            door.watch.share_counts(counts)
        Server(config_of(door, settings), door, settings).run(sockets)
    except SystemExit as end:
        return int(end.code or 0)
    finally:
        lines.close()
    return 0


def config_of(door: Door, settings: Settings) -> uvicorn.Config:
    return uvicorn.Config(
        door,
        http=bounded(Bounds.of(settings, door.turn_away)),
        ws="none",
        lifespan="on",
        log_config=None,
        access_log=False,
        proxy_headers=False,  # the door looks through proxies itself, those that are trusted
        server_header=False,
        timeout_keep_alive=settings.idle_seconds,  # type: ignore[arg-type]
        timeout_graceful_shutdown=settings.finish_seconds,  # type: ignore[arg-type]
        ssl_certfile=settings.tls_certificate,
        ssl_keyfile=settings.tls_key,
    )


def _log_to(lines: LineWriter, settings: Settings) -> None:
    """Have everything that logs write JSON lines, without what is secret."""
    root = logging.getLogger()
    root.handlers = [JsonHandler(lines, secrets_in(settings))]
    root.setLevel(settings.log_level.upper())
    quiet = logging.INFO if settings.log_level == "debug" else logging.WARNING
    for name in ("uvicorn", "alembic", "sqlalchemy", "asyncio"):
        logging.getLogger(name).setLevel(quiet)
