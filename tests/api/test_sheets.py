"""`/v1/drawings`, `/v1/worksheets` and `/v1/blank-worksheets` over the wire; all is invented."""

import copy
import io
import json
import re
import struct
from typing import Any
from xml.etree import ElementTree

import pytest
from asking import JSON_HEADERS, Answer, ask
from pypdf import PdfReader

from service.api import sheet_answers
from service.api.drawings import draw_vehicle
from service.api.worksheets import print_blank_worksheet, print_worksheet
from service.app import EVERY_ROUTE, create_app
from service.settings import Settings
from service.shipped import shipped

HANDLERS = [draw_vehicle, print_worksheet, print_blank_worksheet]
APP = create_app(Settings(), routes=HANDLERS)


def example(name: str) -> Any:
    return json.loads(shipped(f"openapi/examples/{name}.json").read_text("utf-8"))


DRAWING = example("drawing-request")
SHEET = example("worksheet-request")
BLANK = example("blank-worksheet-request")
ALONE = {**SHEET, "after": None}


def post(path: str, body: Any, accept: str = "*/*", language: str = "en") -> Answer:
    headers = ((b"accept", accept.encode()), (b"accept-language", language.encode()))
    return ask(APP, "POST", path, json.dumps(body).encode(), (*JSON_HEADERS, *headers))


def pdf_of(answer: Answer) -> PdfReader:
    assert answer.status == 200, answer.body
    assert answer.headers["content-type"] == "application/pdf"
    return PdfReader(io.BytesIO(answer.body))


def size_of_png(png: bytes) -> tuple[int, int]:
    """Width and height of the IHDR chunk (PNG specification, section 11.2.2)."""
    assert png.startswith(b"\x89PNG\r\n\x1a\n")
    assert png[12:16] == b"IHDR"
    width, height = struct.unpack(">II", png[16:24])
    return width, height


def test_the_service_serves_them() -> None:
    assert all(handler in EVERY_ROUTE for handler in HANDLERS)


def test_a_drawing_is_an_svg_unless_another_form_is_asked_for() -> None:
    answer = post("/v1/drawings", DRAWING)
    assert answer.status == 200, answer.body
    assert answer.headers["content-type"] == "image/svg+xml"
    root = ElementTree.fromstring(answer.body)
    told = " ".join("".join(node.itertext()) for node in root.iter())
    for text in ("Unit 4711 (invented)", "Before", "After", "Thrust: 0.30° right", "conforms"):
        assert text in told


@pytest.mark.parametrize("width", [200, 900])
def test_a_png_has_the_width_that_was_asked_for(width: int) -> None:
    answer = post("/v1/drawings", {**DRAWING, "width": width}, "image/png")
    assert answer.headers["content-type"] == "image/png"
    assert abs(size_of_png(answer.body)[0] - width) <= 1


@pytest.mark.parametrize(
    ("language", "shown", "word"),
    [
        ("es-MX, en;q=0.5", "es", "conforme"),
        ("fr-CA", "fr", "conforme"),
        ("de, en;q=0.1", "en", "conforms"),
        ("", "en", "conforms"),
    ],
)
def test_the_language_is_the_readers(language: str, shown: str, word: str) -> None:
    for path, body in (("/v1/drawings", DRAWING), ("/v1/worksheets", SHEET)):
        answer = post(path, body, language=language)
        assert answer.headers["content-language"] == shown
        assert word in answer.body.decode()
        assert answer.headers["vary"] == "Accept, Accept-Language"


@pytest.mark.parametrize("path", ["/v1/drawings", "/v1/worksheets", "/v1/blank-worksheets"])
def test_what_is_opened_in_a_browser_may_run_and_fetch_nothing(path: str) -> None:
    body = {"/v1/drawings": DRAWING, "/v1/worksheets": SHEET}.get(path, BLANK)
    answer = post(path, body)
    policy = answer.headers["content-security-policy"]
    assert policy.startswith("default-src 'none'")
    assert "unsafe" not in policy
    assert answer.headers["x-content-type-options"] == "nosniff"


def test_a_worksheet_is_html_or_pdf_and_both_carry_one_content() -> None:
    html = post("/v1/worksheets", SHEET, "text/html")
    assert html.headers["content-type"] == "text/html; charset=utf-8"
    content = re.search(rb'id="content">(.*?)</script>', html.body)
    assert content
    pdf = pdf_of(post("/v1/worksheets", SHEET, "application/pdf"))
    assert pdf.attachments["content.json"] == [content[1]]


@pytest.mark.parametrize(
    ("changes", "size"),
    [
        ({}, (612, 792)),
        ({"paper": None, "length_unit": "mm"}, (595, 842)),
        ({"paper": None, "length_unit": "in"}, (612, 792)),
        ({"paper": "a4", "length_unit": "in"}, (595, 842)),
    ],
)
def test_paper_is_as_asked_else_as_the_unit_has_it(
    changes: dict[str, Any], size: tuple[int, int]
) -> None:
    """Points: letter is 8.5 by 11 in, A4 210 by 297 mm (ISO 216)."""
    page = pdf_of(post("/v1/worksheets", {**ALONE, **changes}, "application/pdf")).pages[0]
    assert (round(page.mediabox.width), round(page.mediabox.height)) == size


def test_lengths_are_in_the_unit_asked_for_and_readings_stay_as_they_were_taken() -> None:
    html = post("/v1/worksheets", {**ALONE, "length_unit": "mm"}).body.decode()
    assert "4445.0 mm" in html  # axle 2 stands 175 in behind axle 1
    assert "left 2 9/16; right 4 11/16" in html


def test_every_fault_of_both_rounds_is_named_in_its_place() -> None:
    body = copy.deepcopy(SHEET)
    body["before"]["readings"][0]["left"] = "3 9/1x"
    body["after"]["vehicle"]["axles"][1]["distance"] = "-4"
    answer = post("/v1/worksheets", body)
    assert answer.status == 422
    assert answer.pointers == ["#/before/readings/0/left", "#/after/vehicle/axles/1/distance"]


def test_two_vehicles_are_not_drawn_as_one() -> None:
    body = copy.deepcopy(DRAWING)
    body["after"]["vehicle"]["unit"] = "truck"
    answer = post("/v1/drawings", body)
    assert (answer.status, answer.pointers) == (422, ["#/after/vehicle"])


def test_a_blank_sheet_has_room_for_the_readings_asked_for() -> None:
    html = post("/v1/blank-worksheets", {**BLANK, "readings": ["toe_scale"]}).body.decode()
    assert "Toe by scale, axle 1" in html
    assert "Sightline, axle 2" not in html
    faulty = copy.deepcopy(BLANK)
    faulty["vehicle"]["axles"][1]["distance"] = "far"
    answer = post("/v1/blank-worksheets", faulty)
    assert (answer.status, answer.pointers) == (422, ["#/vehicle/axles/1/distance"])


@pytest.mark.parametrize("path", ["/v1/drawings", "/v1/worksheets"])
def test_another_media_type_is_refused_with_those_that_there_are(path: str) -> None:
    answer = post(path, DRAWING, "video/mp4")
    assert answer.status == 406
    assert "Send Accept: " in answer.json["errors"][0]["hint"]


def test_when_too_many_sheets_wait_one_more_is_told_to_come_again(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(sheet_answers, "AT_ONCE", 0)
    monkeypatch.setattr(sheet_answers, "WAITING", 0)
    answer = post("/v1/worksheets", ALONE, "application/pdf")
    assert (answer.status, answer.headers["retry-after"]) == (503, "2")
    assert post("/v1/worksheets", ALONE, "text/html").status == 200
