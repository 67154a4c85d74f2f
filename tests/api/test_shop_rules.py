"""Keys, events, target sets, offline work and take-out over the wire, on both databases."""

import asyncio
import json
from datetime import UTC, datetime, timedelta
from typing import Any
from uuid import uuid4

import msgspec
import pytest
from served import READINGS, ROUND, VEHICLE, Client, app_of, client_of

from service.contract.intake import intake_of
from service.contract.problems import ProblemError
from service.contract.schemas import component_schemas
from service.contract.solution import SolutionRequest
from service.store.database import Store
from service.store.shops import COUNTERS

pytestmark = pytest.mark.anyio

ROW = {
    "quantity": "thrust",
    "unit": "deg",
    "nominal": "0",
    "lower": "-0.1",
    "upper": "0.1",
    "roles": ["drive"],
    "source": "the shop's own (invented)",
}
SET = {"title": "Fleet of invented trucks", "rows": [ROW]}


async def test_a_key_is_shown_once_and_works_until_revoked(client: Client) -> None:
    answer = await client.post("/v1/keys", json={"name": "till", "scopes": ["read"]})
    assert answer.status_code == 201
    made = answer.json()
    assert answer.headers["cache-control"] == "no-store"
    bearer = {"Authorization": f"Bearer {made['token']}"}
    assert (await client.get("/v1/vehicles", headers=bearer)).status_code == 200
    listed = (await client.get("/v1/keys")).text
    assert made["token"].split(".")[2] not in listed
    path = f"/v1/keys/{made['key']['id']}"
    assert (await client.delete(path)).status_code == 204
    assert (await client.get("/v1/vehicles", headers=bearer)).status_code == 401
    assert (await client.get(path)).status_code == 404
    [ended] = [key for key in (await client.get("/v1/keys")).json()["items"] if key["revoked_at"]]
    assert ended["id"] == made["key"]["id"]


async def test_a_rotated_key_overlaps_with_its_successor(client: Client) -> None:
    made = (await client.post("/v1/keys", json={"name": "till", "scopes": ["read"]})).json()
    path = f"/v1/keys/{made['key']['id']}/rotations"
    new = (await client.post(path, json={"overlap_minutes": 5})).json()
    for token in (made["token"], new["token"]):
        bearer = {"Authorization": f"Bearer {token}"}
        assert (await client.get("/v1/vehicles", headers=bearer)).status_code == 200
    old = (await client.get(f"/v1/keys/{made['key']['id']}")).json()
    ends = datetime.fromisoformat(old["expires_at"]) - datetime.now(UTC)
    assert timedelta(minutes=4) < ends <= timedelta(minutes=5)


async def test_a_successor_ends_when_its_key_would_have_or_when_it_is_told(client: Client) -> None:
    ends, later = (
        (datetime.now(UTC) + timedelta(days=days)).isoformat(timespec="seconds") for days in (7, 9)
    )
    body = {"name": "till", "scopes": ["read"], "expires_at": ends}
    made = (await client.post("/v1/keys", json=body)).json()
    path = f"/v1/keys/{made['key']['id']}/rotations"
    for body, expected in (({}, ends), ({"expires_at": later}, later)):
        new = (await client.post(path, json={"overlap_minutes": 60 * 24 * 30, **body})).json()
        found = datetime.fromisoformat(new["key"]["expires_at"])
        assert found == datetime.fromisoformat(expected)


async def test_a_rotation_whose_answer_was_lost_can_be_asked_for_again(client: Client) -> None:
    made = (await client.post("/v1/keys", json={"name": "till", "scopes": ["read"]})).json()
    path = f"/v1/keys/{made['key']['id']}/rotations"
    for _ in range(2):
        again = await client.post(path, json={})
        assert again.status_code == 201
        assert again.json()["key"]["expires_at"] is None


async def test_a_key_that_was_replaced_at_once_refuses_with_the_name_of_its_successor(
    client: Client,
) -> None:
    made = (await client.post("/v1/keys", json={"name": "till", "scopes": ["read"]})).json()
    path = f"/v1/keys/{made['key']['id']}/rotations"
    new = (await client.post(path, json={"overlap_minutes": 0})).json()
    refused = await client.post(path, json={})
    assert refused.status_code == 409
    assert refused.json()["type"] == "/problems/conflict"
    assert new["key"]["id"] in refused.json()["detail"]


async def test_no_key_is_made_that_has_ended(client: Client) -> None:
    body = {"name": "till", "scopes": ["read"], "expires_at": "2020-02-29T12:00:00Z"}
    answer = await client.post("/v1/keys", json=body)
    assert answer.status_code == 422
    assert answer.json()["errors"][0]["pointer"] == "#/expires_at"
    assert len((await client.get("/v1/keys")).json()["items"]) == 1


async def test_the_last_use_of_a_key_is_noted(client: Client) -> None:
    for _ in range(20):
        [key] = (await client.get("/v1/keys")).json()["items"]
        if key["last_used_at"] is not None:
            return
        await asyncio.sleep(0.05)
    pytest.fail("the use was never noted")


async def test_events_are_read_by_cursor_each_once(client: Client) -> None:
    await client.visit()
    first = (await client.get("/v1/events", params={"limit": 1})).json()
    assert [event["type"] for event in first["items"]] == ["vehicle.created"]
    cursor = first["next_cursor"]
    second = (await client.get("/v1/events", params={"cursor": cursor})).json()
    [event] = second["items"]
    assert (event["type"], event["sequence"]) == ("visit.created", 2)
    assert event["subject"] == f"visit/{event['data']['id']}"
    end = (await client.get("/v1/events", params={"cursor": second["next_cursor"]})).json()
    assert end == {"items": [], "next_cursor": second["next_cursor"]}
    await client.made("/v1/vehicles", VEHICLE)
    more = (await client.get("/v1/events", params={"cursor": end["next_cursor"]})).json()
    assert [event["sequence"] for event in more["items"]] == [3]
    odd = await client.get("/v1/events", params={"cursor": "AAAA"})
    assert odd.status_code == 400


async def test_a_shops_own_target_set_judges_its_rounds(client: Client) -> None:
    """A round keeps the version that judged it, and recomputes by that very version."""
    path = "/v1/target-sets/own-fleet"
    made = await client.put(path, json=SET)
    assert (made.status_code, made.headers["etag"]) == (201, '"1"')
    visit = await client.visit()
    readings = {**READINGS, "target_set": "own-fleet"}
    rounds = f"/v1/visits/{visit['id']}/rounds"
    first = await client.made(rounds, {"label": "before", "request": readings})
    assert (first["target_set"], first["target_set_version"]) == ("own-fleet", 1)
    assert first["solution"]["target_set"] == "own-fleet"
    assert first["solution"]["findings"][0]["source"] == ROW["source"]
    wide = {**SET, "rows": [{**ROW, "lower": "-2", "upper": "2"}]}
    assert (await client.put(path, json=wide)).status_code == 428
    changed = await client.put(path, json=wide, headers={"If-Match": '"1"'})
    assert (changed.status_code, changed.json()["version"]) == (200, 2)
    second = await client.made(rounds, {"label": "after", "request": readings})
    assert second["target_set_version"] == 2
    assert second["solution"]["findings"][0]["verdict"] == "conforming"
    again = await client.get(f"{rounds}/{first['id']}", params={"recompute": True})
    assert again.json()["recomputation"]["solution"]["findings"] == first["solution"]["findings"]
    kept = await client.get(f"{path}/versions/1")
    assert kept.json()["rows"][0]["lower"] == "-0.1"


async def test_own_sets_are_listed_beside_the_built_in_ones(client: Client) -> None:
    await client.put("/v1/target-sets/own-fleet", json=SET)
    listed = (await client.get("/v1/target-sets")).json()["items"]
    assert [item["id"] for item in listed if not item["built_in"]] == ["own-fleet"]
    read = await client.get("/v1/target-sets/own-fleet")
    assert (read.status_code, read.headers["etag"]) == (200, '"1"')
    gone = await client.delete("/v1/target-sets/own-fleet", headers={"If-Match": '"1"'})
    assert gone.status_code == 204
    assert (await client.get("/v1/target-sets/own-fleet")).status_code == 404
    assert (await client.get("/v1/target-sets/own-fleet/versions/1")).status_code == 200
    back = await client.post("/v1/target-sets/own-fleet/restorations")
    assert (back.status_code, back.headers["etag"]) == (200, '"3"')


async def test_an_own_set_that_is_no_round_s_is_refused_with_where_it_is_known(
    client: Client,
) -> None:
    assert (await client.put("/v1/target-sets/own-fleet", json=SET)).status_code == 201
    visit = await client.visit()
    rounds = f"/v1/visits/{visit['id']}/rounds"
    request = {**READINGS, "target_set": "own-fleet"}
    assert (await client.make(rounds, {**ROUND, "request": request})).status_code == 201
    described = component_schemas([SolutionRequest])["SolutionRequest"]["properties"]["target_set"]
    assert "stored rounds only" in described["description"]
    with pytest.raises(ProblemError) as refused:
        intake_of(msgspec.convert(request, SolutionRequest))
    [error] = refused.value.errors
    assert error.pointer == "#/target_set"
    assert "stored rounds only" in error.hint


async def test_a_built_in_set_is_nobodys_to_change(client: Client) -> None:
    for answer in (
        await client.put("/v1/target-sets/truck-published", json=SET),
        await client.delete("/v1/target-sets/truck-published", headers={"If-Match": '"1"'}),
    ):
        assert (answer.status_code, answer.json()["type"]) == (409, "/problems/conflict")


async def test_a_bad_row_of_an_own_set_is_told_where(client: Client) -> None:
    crossed = {**SET, "rows": [ROW, {**ROW, "lower": "1", "upper": "-1"}]}
    answer = await client.put("/v1/target-sets/own-fleet", json=crossed)
    assert answer.status_code == 422
    assert answer.json()["errors"][0]["pointer"].startswith("#/rows/1/")


async def test_offline_work_is_stored_item_by_item_and_safe_to_repeat(client: Client) -> None:
    vehicle, visit, round_ = (str(uuid4()) for _ in range(3))
    items: list[dict[str, Any]] = [
        {"kind": "vehicle", "id": vehicle, "content": VEHICLE},
        {"kind": "visit", "id": visit, "content": {"vehicle_id": vehicle}},
        {"kind": "round", "id": round_, "visit_id": visit, "content": ROUND},
        {"kind": "vehicle", "id": str(uuid4()), "content": {**VEHICLE, "vin": "1" * 18}},
        {"kind": "visit", "id": str(uuid4()), "content": {"vehicle_id": str(uuid4())}},
    ]
    first = await client.post("/v1/syncs", json={"items": items})
    assert first.status_code == 200, first.text
    results = first.json()["items"]
    assert [result["status"] for result in results] == [201, 201, 201, 422, 404]
    assert results[3]["problem"]["errors"][0]["pointer"] == "#/items/3/content/vin"
    assert results[3]["problem"]["detail"].startswith("#/items/3/content/vin: ")
    assert [result["revision"] for result in results[:3]] == [1, 1, None]
    again = await client.post("/v1/syncs", json={"items": items})
    assert [result["status"] for result in again.json()["items"]] == [200, 200, 200, 422, 404]
    read = await client.get(f"/v1/visits/{visit}/rounds/{round_}")
    assert read.json()["request"] == READINGS
    events = (await client.get("/v1/events")).json()["items"]
    assert [event["type"] for event in events] == [
        "vehicle.created",
        "visit.created",
        "round.created",
    ]


async def test_a_history_shows_drift_on_the_road_and_not_the_correction(client: Client) -> None:
    """Drive axle 2 creeps right by the same amount on each leg, and is set back in the shop."""
    vehicle = await client.made("/v1/vehicles", VEHICLE)
    for number, (before, after) in enumerate([("1/4", "0"), ("1/4", "0"), ("1/4", "0")]):
        at = (datetime(2026, 1, 1, tzinfo=UTC) + timedelta(days=90 * number)).isoformat()
        content = {
            "vehicle_id": vehicle["id"],
            "visited_at": at,
            "odometer": 100_000 + 20_000 * number,
        }
        visit = await client.made("/v1/visits", content)
        for label, extra in (("before", before), ("after", after)):
            right = "30" if extra == "0" else f"30 {extra}"
            gap = {"kind": "frame_gap", "axle": 2, "left": "30", "right": right}
            request = {**READINGS, "readings": [gap]}
            await client.made(
                f"/v1/visits/{visit['id']}/rounds", {"label": label, "request": request}
            )
    history = (await client.get(f"/v1/vehicles/{vehicle['id']}/history")).json()
    [offset] = [
        one for one in history["quantities"] if (one["axle"], one["quantity"]) == (2, "offset")
    ]
    values = [point["value"] for point in offset["points"]]
    assert values == pytest.approx([0.125, 0, 0.125, 0, 0.125, 0])
    drift = offset["drift"]
    assert drift["per_10000_miles"] == pytest.approx(0.0625)
    assert drift["lower"] < 0.0625 < drift["upper"]
    assert drift["intervals"] == 2
    assert "Since the visit of 2026-04-01" in history["text"]
    millimetres = await client.get(
        f"/v1/vehicles/{vehicle['id']}/history", params={"length_unit": "mm"}
    )
    [same] = [
        one
        for one in millimetres.json()["quantities"]
        if (one["axle"], one["quantity"]) == (2, "offset")
    ]
    assert same["unit"] == "mm"
    assert same["drift"]["per_10000_miles"] == pytest.approx(0.0625 * 25.4)


async def test_a_vehicle_never_measured_has_an_empty_history(client: Client) -> None:
    vehicle = await client.made("/v1/vehicles", VEHICLE)
    history = (await client.get(f"/v1/vehicles/{vehicle['id']}/history")).json()
    assert history["quantities"] == []
    assert history["text"] == "There is no earlier visit to compare with."


async def test_an_export_holds_everything_but_secrets(client: Client, store: Store) -> None:
    visit = await client.visit()
    await client.made(f"/v1/visits/{visit['id']}/rounds", ROUND)
    await client.put("/v1/target-sets/own-fleet", json=SET)
    endpoint = await client.made("/v1/webhook-endpoints", {"url": "https://shop.example/hook"})
    answer = await client.get("/v1/exports", headers={"Accept": "application/x-ndjson"})
    assert answer.status_code == 200, answer.text
    assert answer.headers["content-type"] == "application/x-ndjson"
    lines = [json.loads(line) for line in answer.text.splitlines()]
    assert lines[0]["format"] == "axlewright-shop"
    assert lines[-1] == {"rows": len(lines) - 2}
    tables = {line["table"] for line in lines[1:-1]}
    assert {"vehicles", "visits", "rounds", "target_set_versions", "events"} <= tables
    assert endpoint["secret"] not in answer.text
    assert "secret" not in answer.text
    async with client_of(app_of(store), store) as other:
        theirs = await other.get("/v1/exports", headers={"Accept": "application/x-ndjson"})
        assert len(theirs.text.splitlines()) == 2 + len(COUNTERS)  # head and tail
