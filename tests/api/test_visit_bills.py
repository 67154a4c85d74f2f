"""A stored visit is estimated from its plan and billed from what its rounds prove."""

import csv
import io
import json
from pathlib import Path
from typing import Any

import msgspec
import pytest
from served import READINGS, VEHICLE, Client

from service.api.line_items import billed_of
from service.contract.line_items import LineItemsRequest
from service.pricing.spreadsheet import comma_separated

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
    assert (first["replaces"], second["replaces"]) == (None, first["id"])
    for one in (first, second):
        assert (await client.get(f"{path}/line-items/{one['id']}")).json() == one
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


async def billed(client: Client, *rounds: Any, **more: str) -> tuple[str, Any]:
    """Path of a visit with rounds, and its final list."""
    await client.put("/v1/rate-cards/alignment-2026", json=CARD)
    path = f"/v1/visits/{(await client.visit())['id']}"
    for one in rounds:
        await client.made(f"{path}/rounds", one)
    answer = await client.make(f"{path}/line-items", BILL, **more)
    assert answer.status_code == 201, answer.text
    return path, answer.json()


async def test_a_final_list_bills_what_was_proven_and_explains_the_difference(
    client: Client,
) -> None:
    """By hand: axle 2 was aimed, 1.25 h x 128.00 = 160.00. The toe stayed outside, so its 65.00
    are not charged. Measuring again is 45.00, measuring is included. Supplies are 5 % of 205.00 =
    10.25, of the planned 270.00 13.50; so 215.25 instead of 283.50, 68.25 less."""
    toe_left = {"label": "after", "request": readings("3 3/8", "3 3/8", "9/16")}
    _, made = await billed(client, BEFORE, toe_left)
    bill = made["bill"]
    amounts = {line["operation"]: line["amount"]["amount"] for line in bill["lines"]}
    assert amounts == {
        "measure": "0.00", "aim_axle": "160.00", "remeasure": "45.00", None: "10.25",
    }  # fmt: skip
    assert bill["total"]["amount"] == "215.25"
    told = bill["comparison"]
    assert (told["estimate"]["amount"], told["difference"]["amount"]) == ("283.50", "-68.25")
    assert [one["operation"] for one in told["changes"]] == ["set_toe", None]
    assert "still outside its limits" in told["changes"][0]["text"]
    [aimed] = [line for line in bill["lines"] if line["operation"] == "aim_axle"]
    assert aimed["positions"] == [{"axle": 2, "side": None, "axle_location": 0x10}]
    assert {item["verdict_before"] for item in aimed["evidence"]} == {"nonconforming"}


async def test_the_estimate_of_the_visit_is_what_the_final_list_is_compared_with(
    client: Client,
) -> None:
    path, made = await billed(client, BEFORE, AFTER)
    estimate = (await client.post(f"{path}/estimates", json=BILL)).json()
    assert estimate["bill"]["total"] == made["bill"]["comparison"]["estimate"]


async def test_an_after_that_is_older_than_the_newest_before_proves_nothing(
    client: Client,
) -> None:
    path, _ = await billed(client, BEFORE, AFTER)
    await client.made(f"{path}/rounds", BEFORE)
    answer = await client.make(f"{path}/line-items", BILL)
    assert answer.status_code == 409
    assert "later than its newest round `before`" in answer.json()["detail"]
    await client.made(f"{path}/rounds", AFTER)
    assert (await client.made(f"{path}/line-items", BILL))["revision"] == 2


async def test_a_vehicle_that_was_right_is_billed_no_correction(client: Client) -> None:
    right = {**AFTER, "label": "before"}
    _, made = await billed(client, right, AFTER)
    operations = {line["operation"] for line in made["bill"]["lines"]}
    assert operations == {"measure", "remeasure", None}
    assert {line["kind"] for line in made["bill"]["lines"]} == {"work", "minimum", "supplies"}


async def test_a_bill_keeps_the_language_it_was_made_in(client: Client) -> None:
    path, made = await billed(client, BEFORE, AFTER, **{"Accept-Language": "fr"})
    assert made["bill"]["language"] == "fr"
    texts = [line["text"] for line in made["bill"]["lines"]]
    assert any("essieu 2" in text for text in texts)
    again = await client.get(f"{path}/line-items/{made['id']}", headers={"Accept-Language": "en"})
    assert again.headers["content-language"] == "fr"
    assert again.json() == made


async def test_a_kept_bill_is_read_as_the_table_it_would_have_been(client: Client) -> None:
    """The stored list and a fresh one of the same rounds give the same table, row by row."""
    path, made = await billed(client, BEFORE, AFTER)
    answer = await client.get(f"{path}/line-items/{made['id']}", headers={"Accept": "text/csv"})
    assert answer.headers["content-type"] == "text/csv; charset=utf-8; header=present"
    rows = list(csv.DictReader(io.StringIO(answer.text)))
    assert [row["text"] for row in rows[:-1]] == [line["text"] for line in made["bill"]["lines"]]
    assert rows[-1]["amount"] == made["bill"]["total"]["amount"]
    solved = [one["solution"] for one in (await client.get(f"{path}/rounds")).json()["items"]]
    body = {"rate_card": CARD["rate_card"], "before": solved[0], "after": solved[1],
            "date": BILL["date"]}  # fmt: skip
    fresh = billed_of(msgspec.convert(body, LineItemsRequest))
    assert comma_separated(fresh.bill) == answer.text


async def test_a_bill_of_another_visit_is_not_found_here(client: Client) -> None:
    _, made = await billed(client, BEFORE, AFTER)
    other, _ = await billed(client, BEFORE, AFTER)
    answer = await client.get(f"{other}/line-items/{made['id']}")
    assert (answer.status_code, answer.json()["type"]) == (404, "/problems/not-found")
