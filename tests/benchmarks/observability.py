"""What watching a request costs: `python tests/benchmarks/observability.py`.

The same sample request goes through the same application with one thing turned on after another,
without a server. Printed are microseconds of processor time, the median of many rounds that take
turns, and what each adds as a share of a whole request of the bare door that solves.
"""

import asyncio
import sys
import tempfile
from collections.abc import Awaitable, Callable
from pathlib import Path
from statistics import median
from time import thread_time
from typing import Any

ROOT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT), str(ROOT / "tests")]

from asking import scope_of  # noqa: E402

from service.api.lines import LineWriter  # noqa: E402
from service.app import ROUTES, create_app  # noqa: E402
from service.settings import Settings  # noqa: E402

BODY = (ROOT / "openapi" / "examples" / "solution-request.json").read_bytes()
HEADERS = [
    (b"user-agent", b"benchmark"),
    (b"accept", b"*/*"),
    (b"content-type", b"application/json"),
    (b"content-length", str(len(BODY)).encode()),
]
TRACE = (b"traceparent", b"00-4bf92f3577b34da6a3ce929d0e0e4736-00f067aa0ba902b7-01")
ROUNDS, TIMES = 60, 40


class Nowhere:
    """A stream that takes everything and keeps nothing."""

    def write(self, piece: bytes) -> int:
        return len(piece)


class NoWatch:
    """In the place of the watch: no limit, no count, no line, no header."""

    busy = 0
    draining = False
    cross_origin = False

    def enter(self, _scope: Any, _headers: Any) -> tuple[()]:
        return ()

    async def admit(self, _scope: Any, _headers: Any) -> tuple[()]:
        return ()

    def leave(self, _scope: Any, _headers: Any, _status: int, _begun: float) -> None:
        return None


def asked(app: Any, headers: list[tuple[bytes, bytes]]) -> Callable[[], Awaitable[None]]:
    """One request, as a server would call the application."""
    message = {"type": "http.request", "body": BODY, "more_body": False}

    async def receive() -> Any:
        return message

    async def send(_message: Any) -> None:
        return None

    async def once() -> None:
        await app(scope_of("POST", "/v1/solutions", headers), receive, send)

    return once


def application(lines: LineWriter | None = None, **settings: Any) -> Any:
    """An application with some things turned on."""
    folder = tempfile.mkdtemp()
    url = f"sqlite:///{folder}/none.sqlite3"
    app = create_app(Settings(database_url=url, compute_open=True, **settings), ROUTES)
    if lines is not None:
        app.watch.log_to(lines)
    return app


def ways(lines: LineWriter) -> dict[str, Callable[[], Awaitable[None]]]:
    """The request by what is turned on."""
    bare = application()
    bare.watch = NoWatch()
    limits = {"rate_per_address": "1000000000/86400", "rate_per_key": "1000000000/86400"}
    proxied = [*HEADERS, (b"x-forwarded-for", b"203.0.113.9"), (b"x-forwarded-proto", b"https")]
    return {
        "the bare door": asked(bare, HEADERS),
        "with metrics and security headers": asked(application(), HEADERS),
        "and the log line": asked(application(lines), HEADERS),
        "and limits: all that is on by default": asked(application(lines, **limits), HEADERS),
        "and a trusted proxy": asked(
            application(lines, **limits, trusted_proxies=("127.0.0.0/8",)), proxied
        ),
        "and a trace": asked(application(lines, **limits), [*HEADERS, TRACE]),
    }


async def measured(every: dict[str, Callable[[], Awaitable[None]]]) -> dict[str, list[float]]:
    """Microseconds of each way in each round; the ways take turns within a round."""
    found: dict[str, list[float]] = {name: [] for name in every}
    for _ in range(ROUNDS):
        for name, once in every.items():
            begun = thread_time()
            for _ in range(TIMES):
                await once()
            found[name].append((thread_time() - begun) / TIMES * 1e6)
    return found


def main() -> None:
    """Print the table."""
    lines = LineWriter(Nowhere())
    found = asyncio.run(measured(ways(lines)))
    lines.close()
    bare = found["the bare door"]
    print("POST /v1/solutions, without a server; share: median over rounds of the ratio to bare")
    for name, times in found.items():
        shares = [time / base for time, base in zip(times, bare, strict=True)]
        print(f"  {name:42} {median(times):7.1f} us   {median(shares) - 1:+7.1%}")


if __name__ == "__main__":
    main()
