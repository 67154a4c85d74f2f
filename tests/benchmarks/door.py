"""What the door costs beside a bare Litestar handler: `python tests/benchmarks/door.py`.

Both decode the documented sample request and do nothing with it, without a server. Printed are
microseconds of processor time, the best of many rounds that take turns, and the ratio to the bare
handler; below them the parts of the strict pass over the body alone.
"""

import asyncio
import sys
from collections.abc import Awaitable, Callable
from pathlib import Path
from time import thread_time
from timeit import repeat
from typing import Any

ROOT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT), str(ROOT / "tests")]

import msgspec  # noqa: E402
from asking import scope_of  # noqa: E402
from litestar import Litestar, post  # noqa: E402
from litestar.params import JSONBody  # noqa: E402

from service.app import create_app  # noqa: E402
from service.contract.base import OpenStruct  # noqa: E402
from service.contract.bodies import reader_of  # noqa: E402
from service.contract.duplicates import refuse_duplicates  # noqa: E402
from service.contract.finite import require_finite  # noqa: E402
from service.contract.members import member_counter  # noqa: E402
from service.contract.problems import ProblemError  # noqa: E402
from service.contract.replies import Reply  # noqa: E402
from service.contract.solution import SolutionRequest  # noqa: E402
from service.settings import Settings  # noqa: E402

BODY = msgspec.json.encode(
    msgspec.json.decode((ROOT / "openapi" / "examples" / "solution-request.json").read_bytes())
)
BROKEN = BODY.replace(b'"axle":2', b'"axle":"2"')
HEADERS = (
    (b"user-agent", b"benchmark"),
    (b"accept", b"*/*"),
    (b"content-type", b"application/json"),
    (b"content-length", str(len(BODY)).encode()),
)


class Done(OpenStruct):
    """The smallest answer."""

    value: float


DONE = Done(value=1.0)
WRITTEN = msgspec.json.encode(DONE)


def handlers() -> list[Any]:
    """Handlers of one application; Litestar keeps what they resolve to with the handler itself."""

    @post("/struct", status_code=200)
    async def answer_struct(data: JSONBody[SolutionRequest]) -> Done:
        return DONE

    @post("/bytes", status_code=200)
    async def answer_bytes(data: JSONBody[SolutionRequest]) -> Reply[Done]:
        return Reply(WRITTEN)

    return [answer_struct, answer_bytes]


def asked(app: Any, path: str, body: bytes = BODY) -> Callable[[], Awaitable[None]]:
    """One request, as a server would call the application."""
    message = {"type": "http.request", "body": body, "more_body": False}

    async def receive() -> Any:
        return message

    async def send(_message: Any) -> None:
        return None

    async def once() -> None:
        await app(scope_of("POST", path, HEADERS), receive, send)

    return once


async def timed(ways: dict[str, Callable[[], Awaitable[None]]]) -> dict[str, float]:
    """Microseconds of processor time of each way, the best of forty rounds in turns."""
    best = dict.fromkeys(ways, float("inf"))
    for _ in range(40):
        for name, once in ways.items():
            begun = thread_time()
            for _ in range(500):
                await once()
            best[name] = min(best[name], (thread_time() - begun) * 2e3)
    return best


def parts() -> dict[str, Callable[[], object]]:
    """The parts of the strict pass over a body, and the guard on an answer."""
    reader, counter = reader_of(SolutionRequest), member_counter(SolutionRequest)
    assert counter is not None
    decode = msgspec.json.Decoder(SolutionRequest).decode
    request = decode(BODY)
    members = counter(request)

    def refused() -> None:
        try:
            reader.read(BROKEN)
        except ProblemError:
            return

    return {
        "msgspec decodes into the type": lambda: decode(BODY),
        "the strict pass: decode, no duplicates": lambda: reader.read(BODY),
        "  of it counting members": lambda: counter(request),
        "  of it counting colons": lambda: refuse_duplicates(BODY, members),
        "  instead, where that proves nothing": lambda: refuse_duplicates(BODY),
        "the guard on this small answer": lambda: require_finite(DONE),
        "two broken rules found and told": refused,
    }


def main() -> None:
    """Print both tables."""
    bare = Litestar(handlers()[:1], openapi_config=None, logging_config=None)
    door = create_app(Settings(), handlers())
    ways = {
        "bare Litestar, struct answered": asked(bare, "/struct"),
        "the door, struct answered": asked(door, "/struct"),
        "the door, bytes answered": asked(door, "/bytes"),
    }
    figures = asyncio.run(timed(ways))
    first = figures["bare Litestar, struct answered"]
    print(f"a request of {len(BODY)} bytes, without a server")
    for name, figure in figures.items():
        print(f"  {name:40} {figure:7.1f} us   {figure / first:5.2f}")
    print("parts")
    for name, part in parts().items():
        number = 200 if "broken" in name else 5000
        figure = min(repeat(part, number=number, repeat=15, timer=thread_time)) / number * 1e6
        print(f"  {name:40} {figure:7.2f} us   {figure / first:5.2f}")


if __name__ == "__main__":
    main()
