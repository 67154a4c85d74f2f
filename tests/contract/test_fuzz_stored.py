"""Whatever is sent to be stored is stored or refused with a problem, on both databases.

Bodies are the examples of the document with values of them replaced. 1,000 cases on each database
in a plain run, 5,000 with CI set, 100,000 with `-m long`.
"""

import asyncio
import os
from collections.abc import Iterator
from uuid import UUID, uuid4

import pytest
from asking import Answer, answer_of
from fuzzed import AT_AN_EDGE, json_bytes, json_values, mutated, spliced
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from walked import OPERATIONS, VEHICLE, VISIT, shown

from service.app import create_app
from service.contract.problem_catalogue import KINDS
from service.settings import Settings
from service.store import keys

STORING = [
    "createVehicle", "putVehicle", "createVisit", "putVisit", "createRound", "putRound",
    "syncWork", "putRateCard", "putTargetSet", "createWebhookEndpoint",
]  # fmt: skip
CASES = 5000 if os.environ.get("CI") else 1000
values = json_values | st.sampled_from(AT_AN_EDGE)


class Shop:
    """A shop with a vehicle and a visit, and its way to ask the service."""

    def __init__(self, url: str) -> None:
        self.run = asyncio.Runner().run
        self.door = create_app(Settings(database_url=url))
        store = self.door.watch.store
        assert store is not None
        self.store = store
        self.run(store.open())
        shop = self.run(store.create_shop("Example Frame and Axle (invented)"))
        scopes = ["read", "write", "admin"]
        made = self.run(store.write(shop, lambda s: keys.create(s, "test", scopes, None)))
        self.token = made[1]
        for name, id in (("putVehicle", UUID(VEHICLE)), ("putVisit", UUID(VISIT))):
            answer = self.ask(name, json_bytes(shown(name)), id)
            assert answer.status == 201, answer.body

    def ask(self, name: str, body: bytes, id: UUID) -> Answer:
        """Have a body stored under an id, where the operation takes one."""
        method, path, operation = OPERATIONS[name]
        if name.endswith("Round"):
            path = path.replace("{id}", VISIT)
        named = "own" if name in ("putRateCard", "putTargetSet") else ""
        path = path.format(id=f"{named}{id}"[:36], round_id=id)
        headers = {
            "content-type": "application/json",
            "authorization": f"Bearer {self.token}",
            "idempotency-key": str(uuid4()),
        }
        told = {one["name"].lower() for one in operation.get("parameters", ())}
        if "idempotency-key" not in told:
            del headers["idempotency-key"]
        sent = [(key.encode(), value.encode()) for key, value in headers.items()]
        return self.run(answer_of(self.door, method, path, body, sent))


@pytest.fixture
def at_shop(database_url: str) -> Iterator[Shop]:
    """A new shop, once on each kind of database."""
    shop = Shop(database_url)
    yield shop
    shop.run(shop.store.close())


def stored_or_refused(shop: Shop, name: str, cases: int) -> None:
    """Try so many bodies of one operation; of all answers some must have been taken."""
    sample = shown(name)
    taken: list[int] = []

    @settings(
        max_examples=cases,
        deadline=None,
        suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
    )
    @given(st.one_of(mutated(sample, values), spliced(json_bytes(sample))), st.uuids())
    def sound(body: bytes, id: UUID) -> None:
        answer = shop.ask(name, body, id)
        taken.append(answer.status)
        assert answer.status < 500, (answer.status, body, answer.body)
        if answer.status >= 300:
            assert answer.slug in KINDS
            assert answer.status in (400, 404, 409, 412, 413, 415, 422, 428), answer.body

    sound()
    assert {200, 201} & {*taken}, "not one was stored"


@pytest.mark.parametrize("name", STORING)
def test_any_body_is_stored_or_refused_with_a_problem(name: str, at_shop: Shop) -> None:
    stored_or_refused(at_shop, name, CASES // len(STORING))


@pytest.mark.long
@pytest.mark.parametrize("name", STORING)
def test_any_of_very_many_bodies_is_stored_or_refused(
    name: str, at_shop: Shop, pytestconfig: pytest.Config
) -> None:
    if "long" not in pytestconfig.option.markexpr:
        pytest.skip("runs with -m long")
    stored_or_refused(at_shop, name, 100_000 // len(STORING))
