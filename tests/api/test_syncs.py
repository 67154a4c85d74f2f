"""`POST /v1/syncs`: a day's offline work in one body, each item answered for itself."""

import json
from typing import Any
from uuid import UUID, uuid4

import pytest
from served import READINGS, ROUND, VEHICLE, Client

from service.contract.bodies import reader_of
from service.contract.problems import ProblemError
from service.contract.syncs import SyncRequest

pytestmark = pytest.mark.anyio

NIL = str(UUID(int=0))
JSON = {"Content-Type": "application/json"}


def vehicle(**content: Any) -> dict[str, Any]:
    return {"kind": "vehicle", "id": str(uuid4()), "content": {**VEHICLE, **content}}


def visit(vehicle_id: str, **content: Any) -> dict[str, Any]:
    said = {"vehicle_id": vehicle_id, **content}
    return {"kind": "visit", "id": str(uuid4()), "content": said}


def round_(visit_id: str, **content: Any) -> dict[str, Any]:
    said = {**ROUND, **content}
    return {"kind": "round", "id": str(uuid4()), "visit_id": visit_id, "content": said}


def without(item: dict[str, Any], name: str) -> dict[str, Any]:
    return {key: value for key, value in item.items() if key != name}


async def synced(client: Client, items: Any) -> list[dict[str, Any]]:
    """The results of items, in their order."""
    answer = await client.post("/v1/syncs", json={"items": items})
    assert answer.status_code == 200, answer.text
    results: list[dict[str, Any]] = answer.json()["items"]
    assert [result["index"] for result in results] == list(range(len(items)))
    return results


async def refusal(client: Client, body: bytes) -> tuple[int, str, str]:
    """Status, kind and first place of the problem that a whole body is refused with."""
    answer = await client.post("/v1/syncs", content=body, headers=JSON)
    problem = answer.json()
    return answer.status_code, problem["type"].rpartition("/")[2], problem["errors"][0]["pointer"]


async def test_an_item_that_breaks_the_contract_spoils_no_other(client: Client) -> None:
    truck = vehicle()
    stay = visit(truck["id"])
    bad: list[tuple[Any, str]] = [
        (vehicle(vin="1AB"), "/content/vin"),
        (vehicle(colour="red"), "/content/colour"),
        (visit(truck["id"], odometer=-4), "/content/odometer"),
        ({**round_(stay["id"]), "content": {"label": "before"}}, "/content/request"),
        (without(round_(stay["id"]), "visit_id"), "/visit_id"),
        ({**vehicle(), "revision": 0}, "/revision"),
        ({**vehicle(), "kind": "trailer"}, "/kind"),
        (without(vehicle(), "kind"), "/kind"),
        (7, ""),
    ]
    taken = round_(stay["id"])
    sent = [truck, *(item for item, _ in bad[:4]), stay, *(item for item, _ in bad[4:]), taken]
    results = await synced(client, sent)
    assert [r["status"] for r in results] == [201, *[422] * 4, 201, *[422] * 5, 201]
    refused = [result for result in results if result["problem"]]
    for result, (item, place) in zip(refused, bad, strict=True):
        problem = result["problem"]
        pointer = f"#/items/{result['index']}{place}"
        kind = "unknown-field" if place == "/content/colour" else "contract-broken"
        assert problem["type"] == f"/problems/{kind}"
        assert [error["pointer"] for error in problem["errors"]] == [pointer]
        assert problem["detail"].startswith(f"{pointer}: ")
        assert result["id"] == (item["id"] if isinstance(item, dict) else NIL)
        assert result["revision"] is None
    assert (await client.get(f"/v1/visits/{stay['id']}/rounds/{taken['id']}")).status_code == 200


@pytest.mark.parametrize("id", ["4711", None, 5, "", "{"])
async def test_an_item_without_a_readable_id_is_refused_under_no_id(
    client: Client, id: Any
) -> None:
    nameless, truck = {**vehicle(), "id": id}, vehicle()
    for item in (nameless, without(nameless, "id")):
        refused, stored = await synced(client, [item, truck])
        assert (refused["id"], refused["status"]) == (NIL, 422)
        assert refused["problem"]["errors"][0]["pointer"] == "#/items/0/id"
        assert stored["id"] == truck["id"]


async def test_every_fault_of_an_item_is_named_as_when_it_was_sent_alone(client: Client) -> None:
    item = {**vehicle(vin="1AB", colour="red"), "revision": "x"}
    with pytest.raises(ProblemError) as alone:
        reader_of(SyncRequest).read(json.dumps({"items": [item]}).encode())
    result = (await synced(client, [vehicle(), vehicle(), item]))[2]
    told = [(e.pointer.replace("/0/", "/2/", 1), e.detail) for e in alone.value.errors]
    assert len(told) == 3
    assert [(e["pointer"], e["detail"]) for e in result["problem"]["errors"]] == told
    assert result["problem"]["detail"].startswith("3 rules are broken, first #/items/2/")


async def test_a_key_that_stands_twice_in_an_item_refuses_that_item(client: Client) -> None:
    good, twice = vehicle(), vehicle()
    text = json.dumps(twice)
    bodies = [
        (text.replace('"vin"', '"vin": "1M8GDM9AXKP042788", "vin"', 1), "/content/vin"),
        (text.replace('"kind"', '"kind": "vehicle", "kind"', 1), "/kind"),
        (text.replace('"kind"', f'"\\u0069d": "{NIL}", "kind"', 1), "/id"),
    ]
    for doubled, place in bodies:
        body = f'{{"items": [{doubled}, {json.dumps(good)}]}}'.encode()
        answer = await client.post("/v1/syncs", content=body, headers=JSON)
        refused, stored = answer.json()["items"]
        assert refused["problem"]["type"] == "/problems/duplicate-key"
        assert refused["problem"]["errors"][0]["pointer"] == f"#/items/0{place}"
        assert stored["status"] in (200, 201)
    assert (await client.get(f"/v1/vehicles/{twice['id']}")).status_code == 404


@pytest.mark.parametrize(
    ("piece", "kind"),
    [
        (b"\xff", "malformed-json"),
        (b'", "odometer": 1e999, "x": "', "non-finite-number"),
        (b'", "x": %b, "y": "' % (b"[" * 70 + b"]" * 70), "nested-too-deeply"),
    ],
)
async def test_an_item_that_no_reader_can_hold_is_refused_in_its_place(
    client: Client, piece: bytes, kind: str
) -> None:
    good, bad = (json.dumps(vehicle()).encode() for _ in range(2))
    body = b'{"items": [%b, %b]}' % (good, bad.replace(b"4711", piece, 1))
    answer = await client.post("/v1/syncs", content=body, headers=JSON)
    assert answer.status_code == 200, answer.text
    stored, refused = answer.json()["items"]
    assert stored["status"] == 201
    assert (refused["status"], refused["id"]) == (400, json.loads(bad)["id"])
    assert refused["problem"]["type"] == f"/problems/{kind}"
    assert refused["problem"]["errors"][0]["pointer"] == "#/items/1"


async def test_what_is_wrong_around_the_items_refuses_the_whole(client: Client) -> None:
    item = json.dumps(vehicle()).encode()
    many = b",".join([item] * 501)
    refused = [
        (b'{"items": [%b}' % item, (400, "malformed-json", "#")),
        (b'{"items": [%b, \xff]}' % item, (400, "malformed-json", "#")),
        (b"[%b]" % item, (422, "contract-broken", "#")),
        (b"{}", (422, "contract-broken", "#/items")),
        (b'{"items": []}', (422, "contract-broken", "#/items")),
        (b'{"items": {"0": %b}}' % item, (422, "contract-broken", "#/items")),
        (b'{"items": [%b]}' % many, (422, "contract-broken", "#/items")),
        (b'{"items": [%b], "shop": 1}' % item, (422, "unknown-field", "#/shop")),
        (b'{"items": [%b], "items": [%b]}' % (item, item), (400, "duplicate-key", "#/items")),
        (b'{"items": [], "\\u0069tems": [%b]}' % item, (400, "duplicate-key", "#/items")),
    ]
    for body, expected in refused:
        assert await refusal(client, body) == expected
    assert (await client.get("/v1/vehicles")).json()["items"] == []


async def test_five_hundred_items_are_taken_whatever_some_of_them_say(client: Client) -> None:
    truck = vehicle()
    sent = [truck] + [vehicle(vin="1AB") if n % 2 else truck for n in range(1, 500)]
    results = await synced(client, sent)
    assert [result["status"] for result in results] == [201, *[422, 200] * 249, 422]


async def test_sending_all_of_it_again_changes_nothing(client: Client) -> None:
    truck = vehicle()
    stay = visit(truck["id"], visited_at="2026-03-14T08:30:00-06:00")
    taken = round_(stay["id"], taken_at="2026-03-14T09:05:00-06:00")
    sent = [truck, vehicle(vin="1AB"), stay, taken]
    first, again = [await synced(client, sent) for _ in range(2)]
    assert [result["status"] for result in first] == [201, 422, 201, 201]
    assert [result["status"] for result in again] == [200, 422, 200, 200]
    assert len((await client.get("/v1/events")).json()["items"]) == 3
    mended = {**sent[1], "content": VEHICLE}
    assert (await synced(client, [truck, mended, stay, taken]))[1]["status"] == 201


async def test_a_whole_number_with_a_point_is_taken_and_readings_stay_letter_by_letter(
    client: Client,
) -> None:
    truck = vehicle()
    stay = {**visit(truck["id"], odometer=12.0)}
    taken = round_(stay["id"])
    assert [r["status"] for r in await synced(client, [truck, stay, taken])] == [201] * 3
    read = await client.get(f"/v1/visits/{stay['id']}/rounds/{taken['id']}")
    assert json.dumps(READINGS, separators=(",", ":")) in read.text


async def test_nobody_without_a_good_key_is_told_of_the_items(client: Client) -> None:
    """A phone whose key was revoked keeps its work, even if no item of it could be read."""
    made = (await client.post("/v1/keys", json={"name": "phone", "scopes": ["write"]})).json()
    reader = (await client.post("/v1/keys", json={"name": "desk", "scopes": ["read"]})).json()
    assert (await client.delete(f"/v1/keys/{made['key']['id']}")).status_code == 204
    for token, status in ((made["token"], 401), (reader["token"], 403)):
        bearer = {"Authorization": f"Bearer {token}"}
        for item in (7, vehicle(vin="1AB"), vehicle()):
            answer = await client.post("/v1/syncs", json={"items": [item]}, headers=bearer)
            assert answer.status_code == status
