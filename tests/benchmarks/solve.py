"""What one solution costs beside a bare Litestar handler: `python tests/benchmarks/solve.py`.

Three-axle tractors with eight readings, each with readings of its own, from the bytes of the
request to the bytes of the answer: findings, plan, straight running and texts included. The bare
handler decodes the same bodies, does nothing, and encodes the same answers, without a server.
"""

import asyncio
import sys
from collections.abc import Callable
from itertools import cycle
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT), str(ROOT / "tests")]

import msgspec  # noqa: E402
from asking import scope_of  # noqa: E402
from fleet import KINDS, bodies  # noqa: E402
from litestar import Litestar, post  # noqa: E402
from rounds import table, timed  # noqa: E402

from service.app import create_app  # noqa: E402
from service.contract.answer import answer, judged, work, write  # noqa: E402
from service.contract.answer_print import printed, printed_answer  # noqa: E402
from service.contract.bodies import reader_of  # noqa: E402
from service.contract.intake import intake_of  # noqa: E402
from service.contract.replies import encoded  # noqa: E402
from service.contract.solution import Solution, SolutionRequest  # noqa: E402
from service.settings import Settings  # noqa: E402

VEHICLES = 60

read = reader_of(SolutionRequest).read


def bare_app(answers: list[Solution]) -> Litestar:
    """A handler of Litestar's own ways that gives ready answers in turn."""
    ready = cycle(answers)

    @post("/v1/solutions", status_code=200)
    async def handle(data: SolutionRequest) -> Solution:
        return next(ready)

    return Litestar([handle], openapi_config=None, logging_config=None)


def asked(app: Any, sent: list[bytes]) -> Callable[[], None]:
    """Every body once, as a server would call the application."""
    loop = asyncio.new_event_loop()

    async def send(_message: Any) -> None:
        return None

    async def all_of_them() -> None:
        for body in sent:
            message = {"type": "http.request", "body": body, "more_body": False}

            async def receive(message: Any = message) -> Any:
                return message

            headers = (
                (b"accept", b"*/*"),
                (b"content-type", b"application/json"),
                (b"content-length", str(len(body)).encode()),
            )
            await app(scope_of("POST", "/v1/solutions", headers), receive, send)

    return lambda: loop.run_until_complete(all_of_them())


def solved(sent: list[bytes]) -> Callable[[], None]:
    """Every body to its answer, in this process."""

    def way() -> None:
        for body in sent:
            printed_answer(read(body))

    return way


def each(do: Callable[[Any], object], things: list[Any]) -> Callable[[], None]:
    """One part of the work, on things that are ready."""

    def way() -> None:
        for thing in things:
            do(thing)

    return way


def parts(sent: list[bytes]) -> dict[str, Callable[[], None]]:
    """The way of a body, step by step."""
    requests = [read(body) for body in sent]
    intakes = [intake_of(request) for request in requests]
    worked = [work(intake) for intake in intakes]
    answers = [answer(request) for request in requests]
    pairs = list(zip(requests, worked, strict=True))
    without = {
        "no plan": {"plan": False},
        "no plan, no running": {"plan": False, "running": False},
        "no plan, no running, no text": {"plan": False, "running": False, "text": False},
    }
    fewer = {
        name: [(msgspec.structs.replace(r, **options), w) for r, w in pairs]
        for name, options in without.items()
    }
    return {
        "read the body strictly": each(read, sent),
        "texts to metres, checked": each(intake_of, requests),
        "solve and judge": each(work, intakes),
        "  of it judging": each(lambda w: judged(w.intake, w.solved), worked),
        "print the answer": each(lambda pair: printed(*pair), pairs),
        **{
            f"  the same, {name}": each(lambda pair: printed(*pair), made)
            for name, made in fewer.items()
        },
        "instead: write it as structs": each(lambda pair: write(*pair), pairs),
        "  and check and encode it": each(encoded, answers),
        "(msgspec alone decodes)": each(msgspec.json.Decoder(SolutionRequest).decode, sent),
        "(msgspec alone encodes)": each(msgspec.json.Encoder().encode, answers),
    }


def main() -> None:
    """Print a table for each kind of fleet."""
    for kind in KINDS:
        sent = bodies(kind, VEHICLES)
        answers = [answer(read(body)) for body in sent]
        size = sum(len(encoded(found)) for found in answers) // VEHICLES
        ways = {
            "bare Litestar handler, no server": asked(bare_app(answers), sent),
            "a solution, decode to encode": solved(sent),
            "the service, no server": asked(create_app(Settings()), sent),
        }
        figures = timed({**ways, **parts(sent)})
        title = f"{kind}: {len(sent[0])} bytes in, {size} bytes out"
        table(title, figures, next(iter(figures.values())), VEHICLES)


if __name__ == "__main__":
    main()
