"""What a batch costs beside msgspec alone, and how long it holds others.

Run `python tests/benchmarks/batch.py`.

One thousand three-axle tractors with eight readings, each with readings of its own, from the bytes
of the body to the bytes of the answer. Beside it: msgspec decodes the same body and encodes the
same answers, and does nothing else. Then the same for 10 to 5,000 vehicles, and the longest time
that the event loop was held by a batch of 5,000.
"""

import asyncio
import gc
import sys
from collections.abc import Callable
from pathlib import Path
from time import perf_counter, thread_time
from typing import Any

ROOT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT), str(ROOT / "tests")]

import msgspec  # noqa: E402
from asking import JSON_HEADERS, scope_of  # noqa: E402
from fleet import KINDS, batch, bodies  # noqa: E402
from rounds import table, timed  # noqa: E402

from service.api.solution_batches import AT_ONCE, HEAD, TAIL  # noqa: E402
from service.app import create_app  # noqa: E402
from service.command.server import FEW_COLLECTIONS  # noqa: E402
from service.contract.batch_answer import batch_items  # noqa: E402
from service.contract.batch_reader import texts_of  # noqa: E402
from service.contract.batches import SolutionBatch, SolutionBatchRequest  # noqa: E402
from service.settings import Settings  # noqa: E402

VEHICLES = 1000
SIZES = (10, 100, 1000, 5000)

OPTIONS: dict[str, dict[str, Any]] = {
    "all": {},
    "no text": {"text": False},
    "no plan": {"plan": False},
    "no text, no plan": {"text": False, "plan": False},
    "no text, plan nor running": {"text": False, "plan": False, "running": False},
}

decode = msgspec.json.Decoder(SolutionBatchRequest).decode
decode_answer = msgspec.json.Decoder(SolutionBatch).decode
encode = msgspec.json.Encoder().encode


def solved(body: bytes) -> list[bytes]:
    """A batch from bytes to the pieces of its answer, as the resource does it but for the turns."""
    texts = texts_of(body)
    parts: list[bytes] = []
    for first in range(0, len(texts), AT_ONCE):
        items = batch_items(texts[first : first + AT_ONCE], first, "")
        parts += [item for item in items if item is not None]
    pieces = [HEAD]
    for first in range(0, len(parts), AT_ONCE):
        pieces.append((b"," if first else b"") + b",".join(parts[first : first + AT_ONCE]))
    return [*pieces, TAIL]


def alone(body: bytes) -> Callable[[], None]:
    """msgspec decodes the body and encodes its answer."""
    answer = decode_answer(b"".join(solved(body)))

    def way() -> None:
        decode(body)
        encode(answer)

    return way


def compare(kind: str) -> None:
    """Print what each option costs, and msgspec alone."""
    ways: dict[str, Callable[[], object]] = {}
    for name, options in OPTIONS.items():
        body = batch(bodies(kind, VEHICLES, **options))
        ways[f"msgspec alone, {name}"] = alone(body)
        ways[f"solved, {name}"] = lambda body=body: solved(body)
    figures = timed(ways, rounds=8)
    names = list(ways)
    for base, work in zip(names[::2], names[1::2], strict=True):
        pair = {base: figures[base], work: figures[work]}
        table(f"{kind}, {VEHICLES} vehicles", pair, figures[base], VEHICLES)
        print(f"  {VEHICLES / figures[work]:,.0f} vehicles a second of one core")


def scale() -> None:
    """Print microseconds a vehicle by the size of the batch."""
    sent = {size: batch(bodies("mixed", size, text=False)) for size in SIZES}
    figures = timed({str(size): lambda b=body: solved(b) for size, body in sent.items()}, rounds=5)
    print("\nmixed, no text, by the number of vehicles")
    base = figures["1000"] / 1000
    for size in SIZES:
        each = figures[str(size)] / size
        print(f"  {size:6} {each * 1e6:9.1f} us a vehicle {each / base:7.2f}")


async def longest_gap(app: Any, body: bytes) -> tuple[float, float]:
    """Seconds that a batch held the loop at most, by the clock and by processor time."""
    gaps, busy = [0.0], [0.0]

    async def tick() -> None:
        clock, used = perf_counter(), thread_time()
        while True:
            await asyncio.sleep(0)
            gaps.append(perf_counter() - clock)
            busy.append(thread_time() - used)
            clock, used = perf_counter(), thread_time()

    messages = [{"type": "http.request", "body": body, "more_body": False}]
    statuses = []
    done = asyncio.Event()

    async def receive() -> Any:
        if messages:
            return messages.pop()
        await done.wait()
        return {"type": "http.disconnect"}

    async def send(message: Any) -> None:
        statuses.append(message.get("status"))
        await asyncio.sleep(0)  # as a server, once its buffer is full

    ticking = asyncio.create_task(tick())
    await app(scope_of("POST", "/v1/solutions/batch", JSON_HEADERS), receive, send)
    ticking.cancel()
    assert statuses[0] == 200
    return max(gaps), max(busy)


def main() -> None:
    """Print all of it."""
    app = create_app(Settings())
    gc.collect()
    gc.freeze()  # this and the next as the server does when it has started
    gc.set_threshold(FEW_COLLECTIONS)
    for kind in KINDS:
        compare(kind)
    scale()
    print("\nlongest time that 5,000 vehicles held the event loop")
    gc.collect()
    gc.freeze()  # what was measured until now is no part of a server
    for kind in KINDS:
        clock, used = asyncio.run(longest_gap(app, batch(bodies(kind, 5000))))
        print(f"  {kind:10} {clock * 1e3:7.1f} ms by the clock {used * 1e3:7.1f} ms of processor")


if __name__ == "__main__":
    main()
