"""A shop's invented days, told in the examples of the contract: every request that it shows is
sent, and every operation with an answer in JSON gives one.

`python tests/walked.py` writes the examples of stored answers anew from these answers.
"""

import asyncio
import copy
import json
import re
from collections.abc import Iterator, Mapping
from pathlib import Path
from tempfile import TemporaryDirectory
from types import MappingProxyType
from typing import Any, NamedTuple
from urllib.parse import urlencode
from uuid import UUID, uuid4

from asking import Answer, answer_of

from service.api.callers import uses_noted
from service.app import create_app, document
from service.contract.examples import examples_folder
from service.settings import Settings
from service.store import keys, webhooks
from service.store.database import Store
from service.store.migration import migrate

DOCUMENT = document()
METHODS = ("get", "put", "post", "patch", "delete")
OPERATIONS: dict[str, tuple[str, str, Any]] = {
    operation["operationId"]: (method.upper(), path, operation)
    for path, item in DOCUMENT["paths"].items()
    for method, operation in item.items()
    if method in METHODS
}

VEHICLE, VISIT, ROUND, AFTER = (f"0190f0c0-0000-7000-8000-00000000000{n}" for n in range(1, 5))
"""The ids that the examples of requests give to what they make."""
NEXT_VISIT, NEXT_ROUND = (f"0190f0c0-0000-7000-8000-00000000000{n}" for n in (5, 6))
OTHER_VEHICLE = "0190f0c0-0000-7000-8000-000000000007"
NOTHING: Mapping[str, Any] = MappingProxyType({})


class Step(NamedTuple):
    """One request of the walk."""

    operation: str
    body: Any = None
    path: Mapping[str, Any] = NOTHING
    query: Mapping[str, str] = NOTHING
    headers: Mapping[str, str] = NOTHING
    status: int = 200


def shown(operation: str) -> Any:
    """The first body that the document shows for an operation."""
    return bodies_shown(OPERATIONS[operation][2])[0]


def bodies_shown(operation: Any) -> list[Any]:
    """Bodies that the document shows; one that is None for an operation that takes none."""
    if "requestBody" not in operation:
        return [None]
    media = operation["requestBody"]["content"]["application/json"]
    return [copy.deepcopy(body) for body in media["schema"]["examples"]]


def value_of(example: Any) -> Any:
    """The value of an example, which may be one that others show too."""
    if "$ref" in example:
        example = DOCUMENT["components"]["examples"][example["$ref"].rpartition("/")[2]]
    return example["value"]


def open_steps() -> Iterator[Step]:
    """Everything that is computed for anybody, with each request body the document shows."""
    for name, (_, _, operation) in OPERATIONS.items():
        if operation.get("security") or name == "getTargetSet":
            continue
        query = {
            one["name"]: next(iter(one["examples"].values()))["value"]
            for one in operation.get("parameters", ())
            if one["in"] == "query" and one.get("examples")
        }
        for body in bodies_shown(operation):
            yield Step(name, body, query=query)
    yield Step("getTargetSet", path={"id": "common-practice"})


def first_visit() -> Iterator[Step]:
    """A truck comes, is read, estimated, put right, read again and billed."""
    one, visit = {"id": VEHICLE}, {"id": VISIT}
    match = {"If-Match": '"1"'}
    yield Step("putRateCard", shown("putRateCard"), {"id": "alignment-2026"}, status=201)
    yield Step("putTargetSet", shown("putTargetSet"), {"id": "own"}, status=201)
    yield Step("putVehicle", shown("putVehicle"), one, status=201)
    yield Step("putVehicle", shown("putVehicle"), one, headers=match)
    yield Step("putVisit", shown("putVisit"), visit, status=201)
    yield Step("putVisit", shown("putVisit"), visit, headers=match)
    before = read_again(shown("putRound"), "before", ("1 3/8", "5 3/8"), "3/16")
    yield Step("putRound", before, visit | {"round_id": ROUND}, status=201)
    yield Step("putRound", before, visit | {"round_id": ROUND})
    yield Step("estimateVisit", shown("estimateVisit"), visit)
    yield Step("listRounds", path=visit)
    after = read_again(shown("putRound"), "after", ("3 3/8", "3 3/8"), "1/16")
    yield Step("putRound", after, visit | {"round_id": AFTER}, status=201)
    yield Step("billVisit", shown("billVisit"), visit, status=201)
    yield Step("issueVisitWorksheet", shown("issueVisitWorksheet"), visit, status=201)
    for name in ("listVisitBills", "listVisitWorksheets", "getVisitPlanView", "getVisitWorksheet"):
        yield Step(name, path=visit)
    yield Step("getRound", path=visit | {"round_id": ROUND})
    yield Step("closeVisit", path=visit, headers={"If-Match": '"1"'})
    yield Step("reopenVisit", shown("reopenVisit"), visit, headers={"If-Match": '"2"'})
    yield Step("getVisit", path=visit)


def read_again(round_: Any, label: str, sightline: tuple[str, str], toe: str) -> Any:
    """The round as shown but for the sightline of axle 3, what shows its work, and the toe."""
    round_["label"] = label
    for reading in round_["request"]["readings"]:
        if reading["kind"] == "sightline":
            at = sightline if reading["axle"] == 3 else ("3 3/8", "3 3/8")
            reading |= {"left": at[0], "right": at[1]}
        if reading["kind"] == "toe_scale":
            reading["toe"] = toe
    return round_


def later_visits() -> Iterator[Step]:
    """It comes again, so that there is a history, and the other ways to make the same things."""
    content = shown("putVisit") | {"odometer": 431_200, "visited_at": "2026-06-20T09:00:00-06:00"}
    yield Step("putVisit", content, {"id": NEXT_VISIT}, status=201)
    again = {"id": NEXT_VISIT, "round_id": NEXT_ROUND}
    yield Step("putRound", shown("putRound"), again, status=201)
    yield Step("getVehicle", path={"id": VEHICLE})
    yield Step("getBlankWorksheet", path={"id": VEHICLE})
    yield Step("getVehicleHistory", path={"id": VEHICLE})
    yield Step("listVehicles", query={"unit_number": "4711"})
    yield Step("listVisits", query={"vehicle_id": VEHICLE})
    yield Step("createVisit", shown("createVisit"), status=201)
    yield Step("createRound", shown("createRound"), {"id": NEXT_VISIT}, status=201)
    yield Step("createVehicle", shown("createVehicle"), status=201)
    one, match = {"id": OTHER_VEHICLE}, {"If-Match": '"1"'}
    yield Step("putVehicle", shown("putVehicle"), one, status=201)
    yield Step("deleteVehicle", path=one, headers=match, status=204)
    yield Step("restoreVehicle", path=one)
    yield Step("deleteVisit", path={"id": NEXT_VISIT}, headers=match, status=204)
    yield Step("restoreVisit", path={"id": NEXT_VISIT})


def of_the_office() -> Iterator[Step]:
    """Rate cards, target sets, keys, webhooks and events."""
    match = {"If-Match": '"1"'}
    card, own = {"id": "alignment-2026"}, {"id": "own"}
    yield Step("putRateCard", shown("putRateCard"), card, headers=match)
    yield Step("putTargetSet", shown("putTargetSet"), own, headers=match)
    yield Step("getTargetSetVersion", path=own | {"number": 1})
    yield Step("listRateCards")
    yield Step("getRateCard", path=card)
    yield Step("getRateCardVersion", path=card | {"number": 1})
    yield Step("withdrawRateCard", path=card, headers=match, status=204)
    yield Step("restoreRateCard", path=card)
    yield Step("withdrawTargetSet", path=own, headers=match, status=204)
    yield Step("restoreTargetSet", path=own)
    yield Step("createKey", shown("createKey"), status=201)
    yield Step("listEvents", query={"limit": "3"})
    yield Step("exportShop")


class Walk:
    """Sends steps with the key of a shop and keeps what came back."""

    def __init__(self, app: Any, token: str) -> None:
        self.app = app
        self.token = token
        self.answers: dict[tuple[str, int], Any] = {}
        self.sent: list[Step] = []

    async def take(self, step: Step, known: bool = True) -> Answer:
        """Send one step, openly or with the key; it must be answered as it says."""
        method, path, operation = OPERATIONS[step.operation]
        headers = {"Content-Type": "application/json"} if step.body is not None else {}
        if known:
            headers["Authorization"] = f"Bearer {self.token}"
        if any(one["name"] == "Idempotency-Key" for one in operation.get("parameters", ())):
            headers["Idempotency-Key"] = str(uuid4())
        answer = await answer_of(
            self.app,
            method,
            path.format(**step.path),
            b"" if step.body is None else json.dumps(step.body).encode(),
            [(k.lower().encode(), v.encode()) for k, v in {**headers, **step.headers}.items()],
            urlencode(step.query).encode(),
        )
        assert answer.status == step.status, (step.operation, answer.status, answer.body[:2000])
        self.sent.append(step)
        if answer.headers.get("content-type") == "application/json":
            self.answers.setdefault((step.operation, answer.status), answer.json)
        return answer


async def walk(door: Any, store: Store) -> Walk:
    """All of it, in order, in a new shop of the application's open store."""
    shop = await store.create_shop("Example Frame and Axle (invented)")
    every = ["compute", "read", "write", "admin"]
    key, token = await store.write(shop, lambda s: keys.create(s, "office", every, None))
    self = Walk(door, token)
    for step in open_steps():
        await self.take(step, known=False)
    hook = await self.take(
        Step("createWebhookEndpoint", shown("createWebhookEndpoint"), status=201)
    )
    for steps in (first_visit(), later_visits(), of_the_office()):
        for step in steps:
            await self.take(step)
    await webhooks_of(self, hook.json["endpoint"]["id"], store, shop)
    await keys_and_papers(self, str(key.id))
    await syncs(self, store)
    await uses_noted()
    return self


async def walked() -> Walk:
    """The walk in a store of its own, gone afterwards."""
    with TemporaryDirectory() as folder:
        url = f"sqlite:///{Path(folder) / 'walk.sqlite3'}"
        await migrate(url)
        door = create_app(Settings(database_url=url))
        store = door.watch.store
        assert store is not None
        await store.open()
        try:
            return await walk(door, store)
        finally:
            await store.close()


async def webhooks_of(self: Walk, endpoint: str, store: Store, shop: UUID) -> None:
    """What is asked of an endpoint, and of an event on its way to it."""
    one = {"id": endpoint}
    await store.write(shop, webhooks.spread_events)
    waiting = await self.take(
        Step("listWebhookDeliveries", query={"state": "pending", "limit": "2"})
    )
    delivery = {"id": waiting.json["items"][0]["id"]}
    await self.take(Step("resendWebhookDelivery", path=delivery))
    await self.take(Step("listWebhookEndpoints"))
    await self.take(Step("getWebhookEndpoint", path=one))
    put = shown("putWebhookEndpoint")
    await self.take(Step("putWebhookEndpoint", put, one, headers={"If-Match": '"1"'}))
    await self.take(Step("rotateWebhookSecret", shown("rotateWebhookSecret"), one, status=201))
    at = {"If-Match": (await self.take(Step("getWebhookEndpoint", path=one))).headers["etag"]}
    await self.take(Step("deleteWebhookEndpoint", path=one, headers=at, status=204))


async def keys_and_papers(self: Walk, key: str) -> None:
    """What takes ids that the service makes."""
    await self.take(Step("listKeys"))
    await self.take(Step("getKey", path={"id": key}))
    made = await self.take(Step("createKey", {"name": "lent", "scopes": ["read"]}, status=201))
    lent = {"id": made.json["key"]["id"]}
    await self.take(Step("rotateKey", shown("rotateKey"), lent, status=201))
    await self.take(Step("revokeKey", path=lent, status=204))
    bill = self.answers["billVisit", 201]["id"]
    await self.take(Step("getVisitBill", path={"id": VISIT, "list_id": bill}))
    sheet = self.answers["issueVisitWorksheet", 201]["id"]
    await self.take(Step("getIssuedWorksheet", path={"id": VISIT, "worksheet_id": sheet}))


async def syncs(self: Walk, store: Store) -> None:
    """A day's offline work, sent by a shop that has none of it yet."""
    shop = await store.create_shop("Another Frame and Axle (invented)")
    _, self.token = await store.write(shop, lambda s: keys.create(s, "tablet", ["write"], None))
    await self.take(Step("syncWork", shown("syncWork")))


EXAMPLES_OF_ANSWERS = {
    "readiness": ("getReadiness", 200),
    "event-page": ("listEvents", 200),
    "key-list": ("listKeys", 200),
    "new-key": ("createKey", 201),
    "stored-key": ("getKey", 200),
    "rate-card-list": ("listRateCards", 200),
    "rate-card-detail": ("getRateCard", 200),
    "sync-answer": ("syncWork", 200),
    "vehicle-page": ("listVehicles", 200),
    "stored-vehicle": ("getVehicle", 200),
    "vehicle-history": ("getVehicleHistory", 200),
    "visit-page": ("listVisits", 200),
    "stored-visit": ("getVisit", 200),
    "visit-bill": ("billVisit", 201),
    "visit-bill-list": ("listVisitBills", 200),
    "visit-estimate": ("estimateVisit", 200),
    "round-list": ("listRounds", 200),
    "stored-round": ("getRound", 200),
    "visit-worksheet": ("issueVisitWorksheet", 201),
    "visit-worksheet-list": ("listVisitWorksheets", 200),
    "delivery-list": ("listWebhookDeliveries", 200),
    "stored-delivery": ("resendWebhookDelivery", 200),
    "endpoint-list": ("listWebhookEndpoints", 200),
    "new-endpoint": ("createWebhookEndpoint", 201),
    "stored-endpoint": ("getWebhookEndpoint", 200),
}
"""Examples that were written from an answer of the walk."""

INVENTED_TOKEN = "invented; a real one is shown here this once"
INVENTED_SECRET = "whsec_aW52ZW50ZWQgZm9yIHRoaXMgZXhhbXBsZQ=="
MADE_ID = re.compile(r"[0-9a-f]{8}-[0-9a-f]{4}-7[0-9a-f]{3}-[0-9a-f]{4}-[0-9a-f]{12}")
MADE_TIME = re.compile(r"20\d\d-\d\d-\d\dT\d\d:\d\d:\d\d\.\d+Z")


def written(answers: dict[tuple[str, int], Any]) -> None:
    """The examples, with invented ids and times in place of those the service made."""
    ids: dict[str, str] = {}

    def invented_id(found: re.Match[str]) -> str:
        if found[0].startswith("0190f0c0"):
            return found[0]
        return ids.setdefault(found[0], f"0190f0c0-0000-7000-8000-{len(ids) + 16:012x}")

    for name, key in EXAMPLES_OF_ANSWERS.items():
        answer = copy.deepcopy(answers[key])
        if "token" in answer:
            answer["token"] = INVENTED_TOKEN
        if "secret" in answer:
            answer["secret"] = INVENTED_SECRET
        text = MADE_ID.sub(invented_id, json.dumps(answer, indent=1, ensure_ascii=False))
        text = MADE_TIME.sub("2026-03-14T14:31:07.250000Z", text)
        (examples_folder() / f"{name}.json").write_text(text + "\n", "utf-8")


if __name__ == "__main__":
    written(asyncio.run(walked()).answers)
