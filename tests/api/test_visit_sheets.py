"""Plan view, worksheets and blank worksheet of stored work; shops and vehicles are invented."""

import io
import json
import re
from hashlib import sha256
from typing import Any

import pytest
from api.test_visit_bills import AFTER, BEFORE
from drawing.hostile import HOSTILE
from pypdf import PdfReader
from served import VEHICLE, Client, app_of, client_of

from service.store.database import Store

pytestmark = pytest.mark.anyio

HTML, PDF = {"Accept": "text/html"}, {"Accept": "application/pdf"}
DETAILS = {"shop_lines": ["12 Yard Road"], "closing": "Guaranteed for 90 days."}


async def worked(client: Client, *rounds: Any, **visit: Any) -> str:
    """Path of a visit of a tractor with rounds, the usual two unless others are given."""
    vehicle = await client.made(
        "/v1/vehicles", {**VEHICLE, "make": "Example Trucks", "customer": "Hill Haulage"}
    )
    made = await client.made("/v1/visits", {"vehicle_id": vehicle["id"], **visit})
    for one in rounds or (BEFORE, AFTER):
        await client.made(f"/v1/visits/{made['id']}/rounds", one)
    return f"/v1/visits/{made['id']}"


async def html_of(client: Client, path: str, **headers: str) -> str:
    answer = await client.get(path, headers={**HTML, **headers})
    assert answer.status_code == 200, answer.text
    return answer.text


def content_in(html: str) -> bytes:
    found = re.search(r'id="content">(.*?)</script>', html)
    assert found
    return found[1].encode()


async def test_a_plan_view_shows_both_rounds_side_by_side_and_one_alone(client: Client) -> None:
    path = f"{await worked(client)}/plan-view"
    both = await client.get(path)
    assert both.headers["content-type"] == "image/svg+xml"
    assert both.text.count(">Axle 2, drive<") == 2
    assert "4711: Plan view, Tractor" in both.text
    alone = await client.get(f"{path}?round=before&length_unit=mm")
    assert alone.text.count(">Axle 2, drive<") == 1
    assert "4762.5 mm" in alone.text
    png = await client.get(f"{path}?width=400", headers={"Accept": "image/png"})
    assert png.content.startswith(b"\x89PNG\r\n\x1a\n")
    assert int.from_bytes(png.content[16:20], "big") == pytest.approx(400, abs=1)


async def test_a_worksheet_tells_what_is_stored_of_shop_vehicle_and_visit(client: Client) -> None:
    check = {"item": "Kingpins", "result": "worn", "note": "left one"}
    path = await worked(
        client,
        odometer=418_220,
        complaint="Pulls right",
        technician="R. Example",
        pre_checks=[check],
        visited_at="2026-03-14T08:00:00-06:00",
    )
    html = await html_of(client, f"{path}/worksheet")
    for told in ("Example Frame and Axle (invented)", "4711", "1M8GDM9AXKP042788", "Hill Haulage",
                 "Example Trucks", "418220 mi", "2026-03-14", "Pulls right", "R. Example",
                 "Kingpins", "left one", "Verdict before", "Verdict after",
                 "Axle aimed to run straight, axle 2"):  # fmt: skip
        assert told in html


async def test_language_paper_and_unit_are_the_readers_and_the_content_stays(
    client: Client,
) -> None:
    path = f"{await worked(client)}/worksheet"
    english = await html_of(client, path)
    french = await client.get(
        f"{path}?paper=a4&length_unit=mm", headers={**PDF, "Accept-Language": "fr-CA"}
    )
    assert french.headers["content-language"] == "fr"
    pdf = PdfReader(io.BytesIO(french.content))
    assert round(float(pdf.pages[0].mediabox.width)) == 595
    assert pdf.attachments["content.json"] == [content_in(english)]
    assert "essieu 2" in " ".join(page.extract_text() for page in pdf.pages)
    assert sha256(content_in(english)).hexdigest() in english


async def test_an_issued_sheet_is_numbered_hashed_and_never_changes(client: Client) -> None:
    path = await worked(client)
    made = await client.make(f"{path}/worksheets", {"details": DETAILS})
    assert made.status_code == 201, made.text
    issued = made.json()
    assert (issued["number"], issued["sha256"].isalnum()) == (1, True)
    assert made.headers["location"] == f"{path}/worksheets/{issued['id']}"
    html = await html_of(client, made.headers["location"])
    assert "Sheet 1<" in html
    assert "12 Yard Road" in html
    assert sha256(content_in(html)).hexdigest() == issued["sha256"]
    assert issued["sha256"] in html
    visit = (await client.get(path)).json()
    vehicle = f"/v1/vehicles/{visit['vehicle_id']}"
    changed = {**VEHICLE, "unit_number": "9999"}
    answer = await client.put(vehicle, json=changed, headers={"If-Match": '"1"'})
    assert answer.status_code == 200
    assert await html_of(client, made.headers["location"]) == html
    assert "9999" in await html_of(client, f"{path}/worksheet")
    assert (await client.get(f"{path}/worksheets")).json() == {"items": [issued]}


async def test_the_same_sheet_is_issued_once_and_another_takes_the_next_number(
    client: Client,
) -> None:
    path = await worked(client)
    first = await client.made(f"{path}/worksheets", {})
    assert await client.made(f"{path}/worksheets", {}) == first
    alone = await client.made(f"{path}/worksheets", {"round": "before"})
    assert (alone["number"], alone["after_round"]) == (2, None)
    named = await client.made(f"{path}/worksheets", {"details": {"number": "JOB-7"}})
    assert named["number"] == 3
    assert "Sheet JOB-7" in await html_of(client, f"{path}/worksheets/{named['id']}")
    listed = (await client.get(f"{path}/worksheets")).json()["items"]
    assert [one["number"] for one in listed] == [1, 2, 3]


async def test_an_issued_sheet_is_told_as_an_event(client: Client) -> None:
    path = await worked(client)
    issued = await client.made(f"{path}/worksheets", {})
    events = (await client.get("/v1/events")).json()["items"]
    [told] = [one for one in events if one["type"] == "worksheet.created"]
    assert told["subject"] == f"worksheet/{issued['id']}"
    assert told["data"]["number"] == 1


async def test_a_visit_is_shown_by_its_rounds_before_and_after_else_by_its_newest(
    client: Client,
) -> None:
    road = {**BEFORE, "label": "road-test"}
    path = await worked(client, road)
    html = await html_of(client, f"{path}/worksheet")
    assert "To be done" in html
    await client.made(f"{path}/rounds", BEFORE)
    await client.made(f"{path}/rounds", road)
    assert "Verdict after" not in await html_of(client, f"{path}/worksheet")
    missing = await client.get(f"{path}/worksheet?round=nowhere", headers=HTML)
    assert (missing.status_code, missing.json()["detail"]) == (404, "No such round.")


async def test_a_visit_without_rounds_has_nothing_to_show(client: Client) -> None:
    visit = await client.visit()
    for what in ("worksheet", "plan-view"):
        answer = await client.get(f"/v1/visits/{visit['id']}/{what}")
        assert (answer.status_code, answer.json()["type"]) == (409, "/problems/conflict")
    answer = await client.make(f"/v1/visits/{visit['id']}/worksheets", {})
    assert answer.status_code == 409


async def test_rounds_of_two_vehicles_are_not_shown_as_one(client: Client) -> None:
    other = json.loads(json.dumps(AFTER))
    other["request"]["vehicle"]["unit"] = "truck"
    path = await worked(client, BEFORE, other)
    answer = await client.get(f"{path}/plan-view")
    assert answer.status_code == 409
    assert "do not describe one vehicle" in answer.json()["detail"]
    assert (await client.get(f"{path}/plan-view?round=after")).status_code == 200


@pytest.mark.parametrize("text", [HOSTILE["markup"], HOSTILE["right to left"], "=1+1", "🚛" * 60])
async def test_what_a_shop_stores_does_no_harm_on_a_sheet(client: Client, text: str) -> None:
    path = await worked(client, BEFORE, technician=text, complaint=text)
    html = await html_of(client, f"{path}/worksheet")
    assert "<script>alert" not in html
    pdf = await client.get(f"{path}/worksheet", headers=PDF)
    assert pdf.content.startswith(b"%PDF-")


async def test_a_blank_sheet_of_a_stored_vehicle_leaves_room_for_its_readings(
    client: Client,
) -> None:
    vehicle = await client.made("/v1/vehicles", VEHICLE)
    path = f"/v1/vehicles/{vehicle['id']}/blank-worksheet"
    html = await html_of(client, path, **{"Accept-Language": "es"})
    assert "para llenar" in html
    assert "Línea de mira, eje 2, escala en el eje 1" in html
    assert "4711" in html
    pdf = await client.get(f"{path}?paper=a4&length_unit=mm", headers=PDF)
    assert "4762.5 mm" in PdfReader(io.BytesIO(pdf.content)).pages[0].extract_text()


async def test_a_reader_may_look_and_only_a_writer_issues(store: Store) -> None:
    app = app_of(store)
    async with client_of(app, store) as owner:
        path = await worked(owner, BEFORE)
        key = await owner.post("/v1/keys", json={"name": "screen", "scopes": ["read"]})
        reader = {"Authorization": f"Bearer {key.json()['token']}"}
        assert (await owner.get(f"{path}/worksheet", headers=reader)).status_code == 200
        assert (await owner.make(f"{path}/worksheets", {}, **reader)).status_code == 403


@pytest.mark.parametrize(
    "query", ["paper=a3", "length_unit=ft", "width=1", "rounds=before", "round=a&round=b"]
)
async def test_a_query_that_cannot_be_met_is_refused_by_name(client: Client, query: str) -> None:
    path = await worked(client, BEFORE)
    what = "plan-view" if "width" in query else "worksheet"
    answer = await client.get(f"{path}/{what}?{query}")
    assert answer.status_code == 400
    assert answer.json()["errors"][0]["pointer"].startswith("?")
