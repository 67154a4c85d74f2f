"""How much of a bare insert-and-commit's throughput storing a round over HTTP reaches.

Run `python tests/benchmarks/store_round.py [--seconds 5] [--clients 16]`. For each database it
prints, in one run: (a) inserting the row of a round and committing, one after another, with
SQLAlchemy alone in one process; (b) `POST /v1/visits/{id}/rounds` on one process of the service,
which checks the key, decodes, solves, stores the round, the kept answer and the event. The target
is b/a >= 0.6. Beside it stand (a) with as many at a time as there are clients, and (b) with one
client. All clients are of one shop, whose rounds take turns at its counter of events. Measure on a
machine that does nothing else, or with `chrt -r 10` before it: the parts of (b) wait for each other
and lose more.
"""

import argparse
import asyncio
import json
import os
import signal
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from uuid import uuid4

import sqlalchemy as sa

sys.path[:0] = [str(Path(__file__).parents[1]), str(Path(__file__).parents[2])]

from served import ROUND, VEHICLE  # noqa: E402
from stores import free_port, start_postgres  # noqa: E402

from service.store import keys, postgres, sqlite_engine  # noqa: E402
from service.store.database import open_store  # noqa: E402
from service.store.migration import migrate  # noqa: E402
from service.store.rounds import RoundRecord  # noqa: E402
from service.store.tables import rounds as table  # noqa: E402

PER_VISIT = 100
"""Rounds of a visit, which takes no more than 200; a real one has two to five."""


async def request(
    reader: asyncio.StreamReader, writer: asyncio.StreamWriter, path: str, token: str, body: bytes
) -> bytes:
    """One POST on an open connection; the answer's body."""
    head = (
        f"POST {path} HTTP/1.1\r\nHost: x\r\nAuthorization: Bearer {token}\r\n"
        f"Idempotency-Key: {uuid4()}\r\nContent-Type: application/json\r\n"
        f"Content-Length: {len(body)}\r\n\r\n"
    )
    writer.write(head.encode() + body)
    answer = await reader.readuntil(b"\r\n\r\n")
    length = int(answer.lower().split(b"content-length: ")[1].split(b"\r\n")[0])
    content = await reader.readexactly(length)
    if not answer.startswith(b"HTTP/1.1 201"):
        raise RuntimeError((answer + content).decode())
    return content


async def over_http(port: int, token: str, clients: int, seconds: float) -> tuple[float, dict]:
    """Rounds stored in a second, and the last one."""
    pairs = [await asyncio.open_connection("127.0.0.1", port) for _ in range(clients)]
    vehicle = json.loads(
        await request(*pairs[0], "/v1/vehicles", token, json.dumps(VEHICLE).encode())
    )
    content = json.dumps({"vehicle_id": vehicle["id"]}).encode()

    async def opened(pair: tuple) -> str:
        return json.loads(await request(*pair, "/v1/visits", token, content))["id"]

    visits = [await opened(pair) for pair in pairs]
    body = json.dumps(ROUND).encode()
    last: dict = {}
    count = 0
    end = time.perf_counter() + seconds

    async def client(pair: tuple, visit: str) -> None:
        nonlocal count, last
        own = 0
        while time.perf_counter() < end:
            last = json.loads(await request(*pair, f"/v1/visits/{visit}/rounds", token, body))
            count += 1
            own += 1
            if own % PER_VISIT == 0:
                visit = await opened(pair)  # within the time, and counts for nothing

    start = time.perf_counter()
    await asyncio.gather(*[client(p, v) for p, v in zip(pairs, visits, strict=True)])
    rate = count / (time.perf_counter() - start)
    for _, writer in pairs:
        writer.close()
    return rate, last


async def served(url: str, token: str, clients: int, seconds: float) -> tuple[float, float, dict]:
    """The service in a process of its own, and clients in this one."""
    port = free_port()
    environment = {**os.environ, "AXLEWRIGHT_DATABASE_URL": url}
    command = [sys.executable, "-m", "service", "serve", "--port", str(port)]
    process = subprocess.Popen(  # which writes its log lines, to nowhere
        command, env=environment, cwd=Path(__file__).parents[2], stdout=subprocess.DEVNULL
    )
    try:
        for _ in range(900):
            try:
                (await asyncio.open_connection("127.0.0.1", port))[1].close()
                break
            except OSError:
                await asyncio.sleep(0.1)
        await over_http(port, token, clients, 1.0)
        one, _ = await over_http(port, token, 1, seconds)
        many, last = await over_http(port, token, clients, seconds)
    finally:
        process.send_signal(signal.SIGTERM)
        process.wait()
    return one, many, last


def row_of(shop: object, visit: object, last: dict) -> dict:
    """The row that the service wrote for the last answer."""
    record = RoundRecord(
        id=uuid4(),
        visit_id=visit,
        label=last["label"],
        taken_at=keys.datetime.fromisoformat(last["taken_at"]),
        request=json.dumps(last["request"]).encode(),
        solution=json.dumps(last["solution"]).encode(),
        target_set=last["target_set"],
        target_set_version=last["target_set_version"],
        engine=last["engine"],
        created_at=keys.datetime.fromisoformat(last["created_at"]),
    )
    row = {name: getattr(record, name) for name in record.__struct_fields__}
    return {**row, "shop_id": shop}


async def bare(url: str, row: dict, at_once: int, seconds: float) -> float:
    """Inserts with a commit each, by SQLAlchemy alone, with the drivers that the store uses."""
    end = time.perf_counter() + seconds
    start, count = time.perf_counter(), 0
    if url.startswith("sqlite"):
        engine = sqlite_engine.engine_of(url.removeprefix("sqlite:///"), writes=True)
        while time.perf_counter() < end:
            with engine.begin() as connection:
                connection.execute(sa.insert(table), {**row, "id": uuid4()})
            count += 1
        engine.dispose()
        return count / (time.perf_counter() - start)
    asynchronous = postgres.engine_of(url)

    async def insert() -> None:
        nonlocal count
        while time.perf_counter() < end:
            async with asynchronous.begin() as connection:
                await connection.execute(sa.insert(table), {**row, "id": uuid4()})
            count += 1

    await asyncio.gather(*[insert() for _ in range(at_once)])
    rate = count / (time.perf_counter() - start)
    await asynchronous.dispose()
    return rate


async def compare(name: str, url: str, clients: int, seconds: float) -> None:
    """Print the line of one database."""
    await migrate(url)
    store = open_store(url)
    await store.open()
    shop = await store.create_shop("Bench (invented)")
    _, token = await store.write(shop, lambda s: keys.create(s, "bench", ["write"], None))
    await store.close()
    one, many, last = await served(url, token, clients, seconds)
    row = row_of(shop, keys.UUID(last["visit_id"]), last)
    floor = await bare(url, row, min(clients, postgres.POOL), seconds)
    alone = await bare(url, row, 1, seconds)
    print(
        f"{name:<11} bare, one after another {alone:6.0f}/s   "
        f"HTTP, {clients} clients {many:6.0f}/s   ratio {many / alone:.2f} (target 0.6)   "
        f"bare at once {floor:6.0f}/s, to that {many / floor:.2f}   "
        f"HTTP, one client {one:6.0f}/s, {one / alone:.2f} of bare"
    )


def main() -> None:
    """Both databases, one after the other."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seconds", type=float, default=5.0)
    parser.add_argument("--clients", type=int, default=16)
    options = parser.parse_args()
    folder = tempfile.mkdtemp()
    asyncio.run(
        compare("SQLite", f"sqlite:///{folder}/bench.sqlite3", options.clients, options.seconds)
    )
    for url in start_postgres():
        asyncio.run(compare("PostgreSQL", url, options.clients, options.seconds))


if __name__ == "__main__":
    main()
