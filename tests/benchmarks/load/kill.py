"""A replica is killed under load and comes back; clients repeat what was not answered.

Each client stores rounds one after the other, each under an idempotency key of its own, and lists
visits in between. What fails is tried again, at once where a connection broke. In the end every
acknowledged round must be in the database, and none but these, each once.
"""

import asyncio
import itertools
import json
import signal
import time
from collections import Counter
from pathlib import Path
from uuid import UUID, uuid4

import httpx
import msgspec
from benchmarks.load.network import Front, front
from benchmarks.load.shop import Shop, make_shop
from served import ROUND
from stores import start_postgres

from service.store.database import open_store
from service.store.keys import read_token
from service.store.takeout import lines_of

CLIENTS = 16
PAUSE = 0.05
TO_A_VISIT = 100
"""Rounds that a client stores in one visit before it takes the next: a visit has room for 200."""
VISITS_OF_A_CLIENT = 8
BODY = json.dumps(ROUND).encode()


class Load:
    """What the clients of one run did."""

    def __init__(self, ahead: Front, shop: Shop) -> None:
        self.addresses = itertools.cycle(ahead.addresses)
        self.shop = shop
        self.outcomes: Counter[str] = Counter()
        self.acknowledged: dict[str, UUID] = {}
        self.replayed = 0
        self.longest = 0.0
        self.ends = float("inf")

    async def client(self, number: int) -> None:
        """Store rounds until the end; the one that was begun is carried through."""
        headers = {"Authorization": f"Bearer {self.shop.key}", "Content-Type": "application/json"}
        visits = self.shop.visits[number::CLIENTS]
        async with httpx.AsyncClient(headers=headers, timeout=10) as http:
            for count in itertools.count():
                if time.perf_counter() > self.ends:
                    return
                visit = visits[count // TO_A_VISIT]
                key, begun = str(uuid4()), time.perf_counter()
                answer = await self._until_answered(
                    http, "POST", f"/v1/visits/{visit}/rounds", BODY, {"Idempotency-Key": key}
                )
                self.acknowledged[key] = UUID(answer.json()["id"])
                self.replayed += "idempotent-replayed" in answer.headers
                self.longest = max(self.longest, time.perf_counter() - begun)
                await self._until_answered(http, "GET", "/v1/visits?limit=20", b"", {})

    async def _until_answered(
        self, http: httpx.AsyncClient, method: str, path: str, body: bytes, headers: dict[str, str]
    ) -> httpx.Response:
        while True:
            try:
                url = next(self.addresses) + path
                answer = await http.request(method, url, content=body, headers=headers)
            except httpx.TransportError as error:
                self.outcomes[type(error).__name__] += 1
            else:
                self.outcomes[str(answer.status_code)] += 1
                if answer.status_code in (200, 201):
                    return answer
                if answer.status_code not in (409, 502, 503, 504):
                    raise AssertionError(answer.text)
            await asyncio.sleep(PAUSE)


def kill(folder: Path, seconds: float) -> None:
    """Kill one of two replicas after a third of the time, start it again after two."""
    for url in start_postgres():
        shop = make_shop(url, CLIENTS * VISITS_OF_A_CLIENT)
        before = asyncio.run(_stored(url, shop))
        with front(folder, url) as ahead:
            load = Load(ahead, shop)
            asyncio.run(_carried_out(load, ahead, seconds))
        stored = set(asyncio.run(_stored(url, shop))) - set(before)
        told = set(load.acknowledged.values())
        assert len(told) == len(load.acknowledged), "two rounds were answered with one id"
        lost, unknown = len(told - stored), len(stored - told)
        _print(load, ahead.how, seconds, lost, unknown)
        if lost or unknown:
            raise AssertionError("acknowledged and stored rounds differ")


async def _carried_out(load: Load, ahead: Front, seconds: float) -> None:
    begun = time.perf_counter()
    load.ends = begun + seconds
    clients = [asyncio.create_task(load.client(number)) for number in range(CLIENTS)]
    await asyncio.sleep(seconds / 3)
    victim = ahead.replicas[0]
    victim.signal(signal.SIGKILL)
    victim.process.wait()
    await asyncio.sleep(seconds / 3)
    await asyncio.to_thread(victim.start)
    await asyncio.gather(*clients)


async def _stored(url: str, shop: Shop) -> list[UUID]:
    """The rounds that a shop has."""
    token = read_token(shop.key)
    assert token is not None
    store = open_store(url)
    await store.open()
    try:
        lines = await store.snapshot(token.shop, lambda scope: list(lines_of(scope)))
    finally:
        await store.close()
    rows = [msgspec.json.decode(line) for line in lines]
    return [UUID(row["row"]["id"]) for row in rows if row.get("table") == "rounds"]


def _print(load: Load, how: str, seconds: float, lost: int, unknown: int) -> None:
    tries = sum(load.outcomes.values())
    failed = tries - load.outcomes["200"] - load.outcomes["201"]
    kinds = ", ".join(f"{name} {count}" for name, count in sorted(load.outcomes.items()))
    print(
        f"{how}; {CLIENTS} clients for {seconds:.0f} s, kill -9 of one replica at a third, "
        f"back at two thirds\n"
        f"rounds acknowledged {len(load.acknowledged)}, of them at a repetition with the first "
        f"answer {load.replayed}\n"
        f"acknowledged and not stored {lost}; stored and never acknowledged {unknown}\n"
        f"tries {tries}, failed {failed}: error rate {100 * failed / tries:.2f} % ({kinds})\n"
        f"longest wait of one round {load.longest:.2f} s"
    )
