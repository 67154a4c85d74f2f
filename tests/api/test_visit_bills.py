"""A stored visit is estimated from its plan and billed from what its rounds prove."""

import json
from pathlib import Path
from typing import Any

import pytest
from served import READINGS, VEHICLE, Client

pytestmark = pytest.mark.anyio

EXAMPLES = Path(__file__).resolve().parents[2] / "openapi" / "examples"
CARD = json.loads((EXAMPLES / "rate-card-content.json").read_text("utf-8"))
BILL = {"rate_card": "alignment-2026", "date": "2026-03-14"}


def readings(left: str, right: str, toe: str) -> dict[str, Any]:
    """Axle 2 aimed by the sightline, axle 1 with this toe; axle 3 square, all centred."""
    return {
        **READINGS,
        "readings": [
            {"kind": "sightline", "axle": 2, "left": left, "right": right},
            {"kind": "sightline", "axle": 3, "left": "3 3/8", "right": "3 3/8"},
            {"kind": "frame_gap", "axle": 1, "left": "30", "right": "30"},
            {"kind": "frame_gap", "axle": 2, "left": "30 1/4", "right": "30 1/4"},
            {"kind": "frame_gap", "axle": 3, "left": "30 1/4", "right": "30 1/4"},
            {"kind": "toe_scale", "axle": 1, "toe": toe, "baseline": "40.2"},
        ],
    }


BEFORE = {"label": "before", "request": readings("1 3/8", "5 3/8", "9/16")}
AFTER = {"label": "after", "request": readings("3 3/8", "3 3/8", "1/16")}


async def test_an_estimate_prices_the_plan_and_stores_nothing(client: Client) -> None:
    await client.put("/v1/rate-cards/alignment-2026", json=CARD)
    visit = await client.visit()
    path = f"/v1/visits/{visit['id']}"
    early = await client.post(f"{path}/estimates", json=BILL)
    assert (early.status_code, early.json()["type"]) == (409, "/problems/conflict")
    before = await client.made(f"{path}/rounds", BEFORE)
    answer = await client.post(f"{path}/estimates", json=BILL)
    assert answer.status_code == 200, answer.text
    estimate = answer.json()
    assert estimate["before_round"] == before["id"]
    assert estimate["rate_card_version"] == 1
    assert estimate["bill"]["stage"] == "estimate"
    assert estimate["bill"]["lines"]
    assert (await client.get(f"{path}/line-items")).json() == {"items": []}


async def test_a_final_list_is_numbered_and_a_change_is_a_revision(client: Client) -> None:
    await client.put("/v1/rate-cards/alignment-2026", json=CARD)
    visit = await client.visit()
    path = f"/v1/visits/{visit['id']}"
    await client.made(f"{path}/rounds", BEFORE)
    early = await client.make(f"{path}/line-items", BILL)
    assert (early.status_code, early.json()["type"]) == (409, "/problems/conflict")
    after = await client.made(f"{path}/rounds", AFTER)
    first = await client.made(f"{path}/line-items", BILL)
    assert (first["number"], first["revision"], first["after_round"]) == (1, 1, after["id"])
    assert first["bill"]["stage"] == "final"
    assert "AL-220" in {line["code"] for line in first["bill"]["lines"]}
    assert await client.made(f"{path}/line-items", BILL) == first
    called = {**BILL, "other_work": [{"operation": "callout", "quantity": "32"}]}
    second = await client.made(f"{path}/line-items", called)
    assert (second["number"], second["revision"]) == (1, 2)
    listed = (await client.get(f"{path}/line-items")).json()["items"]
    assert listed == [first, second]
    vehicle = await client.made("/v1/vehicles", VEHICLE)
    other = await client.made("/v1/visits", {"vehicle_id": vehicle["id"]})
    for round_ in (BEFORE, AFTER):
        await client.made(f"/v1/visits/{other['id']}/rounds", round_)
    assert (await client.made(f"/v1/visits/{other['id']}/line-items", BILL))["number"] == 2


async def test_a_bill_keeps_the_version_of_the_card_it_was_priced_by(client: Client) -> None:
    path = "/v1/rate-cards/alignment-2026"
    made = await client.put(path, json=CARD)
    assert (made.status_code, made.headers["etag"]) == (201, '"1"')
    visit = await client.visit()
    bills = f"/v1/visits/{visit['id']}/line-items"
    for round_ in (BEFORE, AFTER):
        await client.made(f"/v1/visits/{visit['id']}/rounds", round_)
    first = await client.made(bills, BILL)
    rate = {**CARD["rate_card"], "labour_rate": {"amount": "256.00", "currency": "USD"}}
    dearer = {"title": CARD["title"], "rate_card": rate}
    assert (await client.put(path, json=dearer)).status_code == 428
    assert (await client.put(path, json=dearer, headers={"If-Match": '"1"'})).status_code == 200
    second = await client.made(bills, BILL)
    assert (first["rate_card_version"], second["rate_card_version"]) == (1, 2)
    assert second["bill"]["total"] != first["bill"]["total"]
    kept = await client.get(f"{path}/versions/1")
    assert kept.json()["rate_card"]["labour_rate"]["amount"] == "128.00"
    [listed] = (await client.get("/v1/rate-cards")).json()["items"]
    assert listed["version"] == 2


async def test_a_withdrawn_card_bills_no_more_and_can_come_back(client: Client) -> None:
    path = "/v1/rate-cards/alignment-2026"
    await client.put(path, json=CARD)
    assert (await client.delete(path, headers={"If-Match": '"1"'})).status_code == 204
    assert (await client.get(path)).status_code == 404
    assert (await client.get(f"{path}/versions/1")).status_code == 200
    visit = await client.visit()
    answer = await client.post(f"/v1/visits/{visit['id']}/estimates", json=BILL)
    assert (answer.status_code, answer.json()["detail"]) == (404, "No such rate card.")
    back = await client.post(f"{path}/restorations")
    assert (back.status_code, back.headers["etag"]) == (200, '"3"')


async def test_a_card_that_cannot_price_is_told_where(client: Client) -> None:
    card = {**CARD["rate_card"], "currency": "EUR"}
    answer = await client.put(
        "/v1/rate-cards/alignment-2026", json={"title": "x", "rate_card": card}
    )
    assert answer.status_code == 422
    assert answer.json()["errors"][0]["pointer"].startswith("#/rate_card/")
