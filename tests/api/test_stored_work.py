"""Vehicles, visits and rounds over the wire, on both databases."""

import asyncio
import json
from datetime import UTC, datetime
from typing import Any
from uuid import UUID, uuid4

import pytest
from served import READINGS, ROUND, VEHICLE, Client, app_of, client_of
from stored import round_of

from service.store import rounds
from service.store.database import Store
from service.store.scope import ShopScope

pytestmark = pytest.mark.anyio

JSON = {"Content-Type": "application/json"}


async def test_a_vehicle_is_kept_and_read(client: Client) -> None:
    answer = await client.make("/v1/vehicles", VEHICLE)
    assert answer.status_code == 201
    made = answer.json()
    assert answer.headers["etag"] == '"1"'
    assert answer.headers["location"] == f"/v1/vehicles/{made['id']}"
    read = await client.get(answer.headers["location"])
    assert (read.status_code, read.json()) == (200, made)
    assert made["vehicle"]["axles"][1]["distance"] == "187 1/2"
    assert made["cautions"] == []


async def test_a_wrong_check_digit_is_a_caution_unless_the_rule_is_declared(
    client: Client,
) -> None:
    wrong = {**VEHICLE, "vin": "1m8gdm9a1kp042788"}
    made = await client.made("/v1/vehicles", wrong)
    assert made["vin"] == "1M8GDM9A1KP042788"
    assert [caution["code"] for caution in made["cautions"]] == ["vin_check_digit"]
    answer = await client.make("/v1/vehicles", {**wrong, "vin_check_digit": True})
    assert answer.status_code == 422
    [error] = answer.json()["errors"]
    assert error["pointer"] == "#/vin"
    assert "would be X" in error["detail"]


@pytest.mark.parametrize(
    ("change", "pointer"),
    [
        ({"vin": "1M8GDM9AXKP04278O"}, "#/vin"),
        ({"unit_number": "a\u0000b"}, "#/unit_number"),
        ({"unit_number": "a\n"}, "#/unit_number"),
        ({"colour": "red"}, "#/colour"),
        ({"vehicle": {"unit": "truck", "axles": [{"number": 1, "role": "steer", "distance": "x"}]}},
         "#/vehicle/axles/0/distance"),
    ],
)  # fmt: skip
async def test_a_vehicle_that_breaks_the_contract_is_told_where(
    client: Client, change: dict[str, Any], pointer: str
) -> None:
    answer = await client.make("/v1/vehicles", {**VEHICLE, **change})
    assert answer.status_code == 422, answer.text
    assert [error["pointer"] for error in answer.json()["errors"]] == [pointer]


async def test_a_creating_post_needs_an_idempotency_key(client: Client) -> None:
    answer = await client.post("/v1/vehicles", json=VEHICLE)
    assert answer.status_code == 400
    assert answer.json()["type"] == "/problems/idempotency-key-required"


async def test_a_repeated_post_is_answered_as_the_first(client: Client) -> None:
    first = await client.make("/v1/vehicles", VEHICLE, **{"Idempotency-Key": "a"})
    again = await client.make("/v1/vehicles", VEHICLE, **{"Idempotency-Key": '"a"'})
    assert (again.status_code, again.content) == (201, first.content)
    assert again.headers["idempotent-replayed"] == "true"
    assert again.headers["location"] == first.headers["location"]
    other = await client.make("/v1/vehicles", {**VEHICLE, "vin": None}, **{"Idempotency-Key": "a"})
    assert (other.status_code, other.json()["type"]) == (422, "/problems/idempotency-key-reused")
    assert len((await client.get("/v1/vehicles")).json()["items"]) == 1


@pytest.mark.parametrize("taken_at", [None, "2026-03-14T14:30:00.5+02:00"])
async def test_a_repeated_round_is_answered_as_the_first(
    client: Client, taken_at: str | None
) -> None:
    """Letter by letter, though its answer is not kept beside the round, and its visit is gone."""
    visit = await client.visit()
    path = f"/v1/visits/{visit['id']}"
    content = {**ROUND, "taken_at": taken_at}
    first = await client.make(f"{path}/rounds", content, **{"Idempotency-Key": "r"})
    assert first.status_code == 201
    assert first.content == (await client.get(first.headers["location"])).content
    gone = await client.delete(path, headers={"If-Match": '"1"'})
    assert gone.status_code in (200, 204)
    again = await client.make(f"{path}/rounds", content, **{"Idempotency-Key": "r"})
    assert (again.status_code, again.content) == (201, first.content)
    assert again.headers["idempotent-replayed"] == "true"
    assert again.headers["location"] == first.headers["location"]


async def test_a_key_in_flight_is_a_conflict(client: Client) -> None:
    answers = await asyncio.gather(
        *[client.make("/v1/vehicles", VEHICLE, **{"Idempotency-Key": "b"}) for _ in range(8)]
    )
    assert {answer.status_code for answer in answers} <= {201, 409}
    assert {a.json()["type"] for a in answers if a.status_code == 409} <= {
        "/problems/idempotency-key-in-flight"
    }
    assert len((await client.get("/v1/vehicles")).json()["items"]) == 1


async def test_while_a_key_is_worked_on_another_request_with_it_is_told_to_wait(
    client: Client, store: Store
) -> None:
    """The key is held as if its first request had not come to an end yet."""
    held = (client.shop, "held")  # type: ignore[attr-defined]
    store._keys.add(held)  # type: ignore[attr-defined]
    waiting = await client.make("/v1/vehicles", VEHICLE, **{"Idempotency-Key": "held"})
    assert (waiting.status_code, waiting.json()["type"]) == (
        409,
        "/problems/idempotency-key-in-flight",
    )
    assert int(waiting.headers["retry-after"]) > 0
    store._keys.discard(held)  # type: ignore[attr-defined]
    done = await client.make("/v1/vehicles", VEHICLE, **{"Idempotency-Key": "held"})
    assert done.status_code == 201


async def test_a_change_needs_the_etag_that_was_read(client: Client) -> None:
    made = await client.made("/v1/vehicles", VEHICLE)
    path = f"/v1/vehicles/{made['id']}"
    changed = {**VEHICLE, "unit_number": "12"}
    missing = await client.put(path, json=changed)
    assert (missing.status_code, missing.json()["type"]) == (
        428,
        "/problems/precondition-required",
    )
    stale = await client.put(path, json=changed, headers={"If-Match": '"7"'})
    assert (stale.status_code, stale.json()["type"]) == (412, "/problems/precondition-failed")
    odd = await client.put(path, json=changed, headers={"If-Match": '"abc"'})
    assert odd.status_code == 412
    done = await client.put(path, json=changed, headers={"If-Match": '"1"'})
    assert (done.status_code, done.headers["etag"]) == (200, '"2"')
    weak = await client.put(path, json=VEHICLE, headers={"If-Match": 'W/"2"'})
    assert (weak.status_code, weak.headers["etag"]) == (200, '"3"')


async def test_of_two_writers_on_one_etag_one_gets_412(client: Client) -> None:
    made = await client.made("/v1/vehicles", VEHICLE)

    def change(number: str) -> Any:
        content = {**VEHICLE, "unit_number": number}
        return client.put(f"/v1/vehicles/{made['id']}", json=content, headers={"If-Match": '"1"'})

    answers = await asyncio.gather(change("1"), change("2"))
    assert sorted(answer.status_code for answer in answers) == [200, 412]


async def test_a_client_made_id_is_safe_to_repeat(client: Client) -> None:
    path = f"/v1/vehicles/{uuid4()}"
    answers = [await client.put(path, json=VEHICLE) for _ in range(3)]
    assert [answer.status_code for answer in answers] == [201, 200, 200]
    assert len({answer.content for answer in answers}) == 1
    assert answers[0].headers["etag"] == '"1"'


async def test_a_deleted_vehicle_is_gone_until_restored(client: Client) -> None:
    made = await client.made("/v1/vehicles", VEHICLE)
    path = f"/v1/vehicles/{made['id']}"
    assert (await client.delete(path)).status_code == 428
    assert (await client.delete(path, headers={"If-Match": '"1"'})).status_code == 204
    assert (await client.get(path)).status_code == 404
    assert (await client.put(path, json=VEHICLE)).status_code == 409
    back = await client.post(f"{path}/restorations")
    assert (back.status_code, back.headers["etag"]) == (200, '"3"')
    assert (await client.get(path)).status_code == 200


async def test_a_visit_is_opened_closed_and_reopened_with_a_reason(client: Client) -> None:
    visit = await client.visit()
    path = f"/v1/visits/{visit['id']}"
    assert (visit["state"], visit["revision"]) == ("open", 1)
    closed = await client.post(f"{path}/closings", headers={"If-Match": '"1"'})
    assert (closed.json()["state"], closed.headers["etag"]) == ("closed", '"2"')
    assert closed.json()["closed_at"] is not None
    again = await client.post(f"{path}/closings", headers={"If-Match": '"2"'})
    assert (again.status_code, again.json()["type"]) == (409, "/problems/conflict")
    refused = await client.make(f"{path}/rounds", ROUND)
    assert refused.status_code == 409
    content = {"vehicle_id": visit["vehicle_id"], "notes": "more"}
    edited = await client.put(path, json=content, headers={"If-Match": '"2"'})
    assert edited.status_code == 409
    reason = {"reason": "the customer came back"}
    opened = await client.post(f"{path}/reopenings", json=reason, headers={"If-Match": '"2"'})
    assert (opened.json()["state"], opened.json()["closed_at"]) == ("open", None)
    [kept] = opened.json()["reopenings"]
    assert kept["reason"] == "the customer came back"
    edited = await client.put(path, json=content, headers={"If-Match": '"3"'})
    assert edited.status_code == 200
    assert edited.json()["reopenings"] == [kept]
    assert edited.json()["visited_at"] == visit["visited_at"]


async def test_a_vin_is_looked_for_as_it_is_stored(client: Client) -> None:
    """Blanks, hyphens and small letters, as people write a VIN, find the same vehicle."""
    visit = await client.visit()
    for text in ("1M8GDM9AXKP042788", "1m8gdm9a-xkp-042788", "1M8GD M9AXK P0427 88"):
        for path, id in (("/v1/vehicles", visit["vehicle_id"]), ("/v1/visits", visit["id"])):
            found = (await client.get(path, params={"vin": text})).json()["items"]
            assert [item["id"] for item in found] == [id]


async def test_a_visit_of_no_vehicle_is_not_found(client: Client) -> None:
    answer = await client.make("/v1/visits", {"vehicle_id": str(uuid4())})
    assert (answer.status_code, answer.json()["detail"]) == (404, "No such vehicle.")


async def test_visits_are_filtered_and_paged(client: Client) -> None:
    vehicle = await client.made("/v1/vehicles", VEHICLE)
    for day in range(5):
        at = datetime(2026, 3, day + 1, 8, tzinfo=UTC).isoformat()
        await client.made("/v1/visits", {"vehicle_id": vehicle["id"], "visited_at": at})
    query: dict[str, Any] = {
        "unit_number": "4711",
        "state": "open",
        "since": "2026-03-02T00:00:00Z",
        "until": "2026-03-05T00:00:00Z",
        "limit": 2,
    }
    first = (await client.get("/v1/visits", params=query)).json()
    days = [item["visited_at"][:10] for item in first["items"]]
    assert days == ["2026-03-04", "2026-03-03"]
    rest = await client.get("/v1/visits", params={**query, "cursor": first["next_cursor"]})
    assert [item["visited_at"][:10] for item in rest.json()["items"]] == ["2026-03-02"]
    assert rest.json()["next_cursor"] is None
    other = await client.get("/v1/visits", params={"cursor": first["next_cursor"]})
    assert (other.status_code, other.json()["type"]) == (400, "/problems/bad-query")
    assert other.json()["errors"][0]["pointer"] == "?cursor"
    naive = await client.get("/v1/visits", params={"since": "2026-03-02T00:00:00"})
    assert (naive.status_code, naive.json()["errors"][0]["pointer"]) == (400, "?since")
    odd = await client.get("/v1/visits", params={"state": "broken"})
    assert (odd.status_code, odd.json()["errors"][0]["pointer"]) == (400, "?state")


async def test_a_round_keeps_what_was_sent_and_what_came_of_it(client: Client) -> None:
    """The request comes back letter by letter, blanks and all."""
    visit = await client.visit()
    path = f"/v1/visits/{visit['id']}/rounds"
    readings = b'{ "length_unit":"in",\n "vehicle":' + json.dumps(READINGS["vehicle"]).encode()
    readings += b', "readings": ' + json.dumps(READINGS["readings"]).encode() + b"}"
    body = b'{"label": "before", "request": ' + readings + b"}"
    answer = await client.post(path, content=body, headers={**JSON, "Idempotency-Key": "r"})
    assert answer.status_code == 201, answer.text
    assert b'"request":' + readings + b"," in answer.content
    made = answer.json()
    assert (made["target_set"], made["target_set_version"]) == ("common-practice", 1)
    assert made["solution"]["axles"][1]["thrust"] is not None
    assert made["engine"] == made["solution"]["engine"]
    read = await client.get(answer.headers["location"])
    assert read.content == answer.content
    listed = await client.get(path)
    assert listed.json() == {"items": [made]}


async def test_todays_engine_says_what_changed(client: Client) -> None:
    visit = await client.visit()
    made = await client.made(f"/v1/visits/{visit['id']}/rounds", ROUND)
    path = f"/v1/visits/{visit['id']}/rounds/{made['id']}"
    today = (await client.get(path, params={"recompute": "true"})).json()
    assert today["solution"] == made["solution"]
    assert today["recomputation"]["changes"] == []
    assert today["recomputation"]["solution"] == made["solution"]


async def test_a_fault_of_a_rounds_readings_is_placed_in_the_body(client: Client) -> None:
    visit = await client.visit()
    readings = [{"kind": "frame_gap", "axle": 9, "left": "30", "right": "30 1/4"}]
    content = {"label": "before", "request": {**READINGS, "readings": readings}}
    answer = await client.make(f"/v1/visits/{visit['id']}/rounds", content)
    assert answer.status_code == 422
    assert answer.json()["errors"][0]["pointer"] == "#/request/readings/0/axle"
    assert answer.json()["detail"].startswith("#/request/readings/0/axle: ")


async def test_a_round_under_a_clients_id_never_changes(client: Client) -> None:
    visit = await client.visit()
    path = f"/v1/visits/{visit['id']}/rounds/{uuid4()}"
    answers = [await client.put(path, json=ROUND) for _ in range(2)]
    assert [answer.status_code for answer in answers] == [201, 200]
    assert answers[0].content == answers[1].content
    same_time = {**ROUND, "taken_at": answers[0].json()["taken_at"]}
    assert (await client.put(path, json=same_time)).status_code == 200
    for change in ({"label": "after"}, {"taken_at": "2026-03-14T12:00:00Z"}):
        other = await client.put(path, json={**ROUND, **change})
        assert (other.status_code, other.json()["type"]) == (409, "/problems/conflict")


async def test_a_visit_takes_so_many_rounds_and_no_more(client: Client, store: Store) -> None:
    """A visit takes 200, and its list shows every one."""
    visit = await client.visit()
    path = f"/v1/visits/{visit['id']}/rounds"

    def nearly_full(scope: ShopScope) -> None:
        for _ in range(rounds.MOST - 2):
            rounds.add(scope, round_of(UUID(visit["id"])))

    await store.write(client.shop, nearly_full)  # type: ignore[attr-defined]
    answers = [await client.make(path, ROUND) for _ in range(3)]
    assert [answer.status_code for answer in answers] == [201, 201, 409]
    assert answers[2].json()["detail"] == "A visit has at most 200 rounds; open another one."
    listed = (await client.get(path)).json()["items"]
    assert len(listed) == rounds.MOST
    assert answers[1].json()["id"] in {item["id"] for item in listed}


async def test_a_request_without_a_good_key_sees_nothing(client: Client, store: Store) -> None:
    made = await client.made("/v1/vehicles", VEHICLE)
    path = f"/v1/vehicles/{made['id']}"
    for header in ({"Authorization": ""}, {"Authorization": "Bearer axw_x"},
                   {"Authorization": client.headers["Authorization"][:-4] + "AAAA"}):  # fmt: skip
        answer = await client.get(path, headers=header)
        assert (answer.status_code, answer.json()["type"]) == (401, "/problems/unauthorised")
        assert answer.headers["www-authenticate"] == "Bearer"
    async with client_of(app_of(store), store, ["write"]) as writer:
        answer = await writer.get(path)
        assert (answer.status_code, answer.json()["type"]) == (403, "/problems/forbidden")


async def test_many_wrong_keys_from_one_address_are_cut_off(client: Client) -> None:
    wrong = {"Authorization": "Bearer nonsense"}
    answers = [await client.get("/v1/vehicles", headers=wrong) for _ in range(31)]
    assert [answer.status_code for answer in answers] == [401] * 30 + [429]
    assert int(answers[-1].headers["retry-after"]) > 0
