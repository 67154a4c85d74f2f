"""What a worksheet says, read back from its HTML and from its PDF; everything is invented."""

import io
import json
import re
from hashlib import sha256

import pytest
from drawing.fleet import FLEET
from drawing.html_reading import Reader
from drawing.sessions import DETAILS, READINGS, session, sheet
from pypdf import PdfReader

from service.drawing.content import read_content
from service.drawing.page import Page
from service.drawing.page_html import page_html
from service.drawing.page_pdf import page_pdf
from service.drawing.sheet import Check, Details, Done, Form, Sheet
from service.drawing.worksheet import worksheet
from service.locale.catalogue import LANGUAGES, catalogue

SAFETY = ("chock", "stands", "fingers", "torque", "remeasure", "road_test", "defer")


def html_text(page: Page) -> str:
    return " ".join(" ".join(Reader(page_html(page)).texts).split())


def pdf_text(pdf: bytes) -> str:
    reader = PdfReader(io.BytesIO(pdf))
    told = " ".join(page.extract_text() for page in reader.pages)
    return " ".join(told.translate({0x2068: None, 0x2069: None}).split())


PAGE = worksheet(sheet(), Form())
TEXTS = {"html": html_text(PAGE), "pdf": pdf_text(page_pdf(PAGE))}


@pytest.fixture(params=["html", "pdf"])
def text(request: pytest.FixtureRequest) -> str:
    """The sheet of one round as text, from either file."""
    return TEXTS[request.param]


def test_it_names_the_shop_the_sheet_and_the_vehicle(text: str) -> None:
    for told in ("Crossroads Truck Alignment", "12 Yard Road", "Sheet JOB-2031", "Hill Haulage",
                 "4711", "Pulls right", "Tractor", "187 1/2 in"):  # fmt: skip
        assert told in text


def test_readings_stand_letter_by_letter_as_they_were_taken(text: str) -> None:
    for reading in READINGS:
        for name, value in reading.marks:
            if not name.endswith("thick_end"):
                assert value in text
    assert "thick end left to the rear" in text


def test_a_reading_that_the_others_contradict_is_said_to_be(text: str) -> None:
    assert "30 1/2. Contradicts the other readings; take it again" in text


def test_conditions_are_told_as_they_were_stated(text: str) -> None:
    assert "Rolled in straight yes" in text
    assert "Let roll to a stop no" in text
    assert "Weight on its wheels not stated" in text


def test_every_value_has_its_uncertainty_and_every_verdict_its_probability_in_words(
    text: str,
) -> None:
    assert "1/8 in right (give or take 1/32 in)" in text
    assert "does not conform (< 1 % likely inside)" in text
    assert "cannot be told for sure (61 % likely inside)" in text
    assert "partly assumed" in text
    assert "95 times in 100" in text


def test_the_plan_says_what_to_move_and_what_the_tape_must_read_then(text: str) -> None:
    assert "Axle 3: shift it 1/4 in to the left." in text
    assert "left 30 in (from 29 29/32 in to 30 3/32 in); right 30 1/4 in." in text
    assert "Turn the tie rod 0.25 turns shorter" in text
    assert "Axles 2 and 3: Scrub stays 0.05° beyond its limit" in text
    assert "Axle 1: Total toe stays too near its limit" in text


def test_what_was_done_and_what_it_rests_on_are_there(text: str) -> None:
    for told in (*DETAILS.work_done, DETAILS.notes, DETAILS.closing, "truck-published",
                 "axlewright 9.9.9", "Axle 2 was not taped"):  # fmt: skip
        assert told in text


def test_it_shows_the_plan_view(text: str) -> None:
    assert "Frame centreline" in text
    assert "Seen from above." in text


@pytest.mark.parametrize("language", LANGUAGES)
def test_it_carries_every_caution_in_every_language(language: str) -> None:
    page = worksheet(sheet(), Form(language, "a4", "mm"))
    say = catalogue(language).say
    wanted = [say(f"safety.{name}") for name in SAFETY]
    wanted += [say("caution.implausible-thrust", axle=3), say("caution.conditions-unsaid")]
    for text in (html_text(page), pdf_text(page_pdf(page))):
        assert [one for one in wanted if one not in text] == []


def test_proven_work_is_told_in_words_where_the_shop_tells_none() -> None:
    done = (Done("measure"), Done("aim_axle", 3), Done("match_wedges", 1, "left"))
    silent = sheet(details=Details())._replace(done=done)
    told = html_text(worksheet(silent, Form()))
    assert "Axle aimed to run straight, axle 3" in told
    assert "Caster wedges matched side to side, axle 1, left side" in told
    assert "essieu 3" in html_text(worksheet(silent, Form("fr")))
    assert "aimed to run straight" not in html_text(worksheet(sheet()._replace(done=done), Form()))


def test_what_was_looked_at_is_told_before_the_conditions_and_wear_in_bold() -> None:
    checks = (Check("Kingpins", "worn", "left, 1/8 in play"), Check("Springs", "sound"))
    html = page_html(worksheet(sheet()._replace(checks=checks), Form()))
    assert "<strong>worn</strong>" in html
    told = " ".join(" ".join(Reader(html).texts).split())
    assert re.search(r"Before measuring .*Kingpins worn left, 1/8 in play.*Conditions", told)


def test_it_can_be_signed(text: str) -> None:
    assert re.search(r"Technician.*Customer", text)
    assert text.count("Date") >= 2


def test_before_and_after_stand_side_by_side_with_both_verdicts() -> None:
    page = worksheet(sheet(after=True), Form())
    for text in (html_text(page), pdf_text(page_pdf(page))):
        assert "Verdict before" in text
        assert "Verdict after" in text
        assert "What was planned" in text
        assert "To be done" not in text


def test_two_rounds_are_drawn_to_one_scale_in_two_drawings() -> None:
    html = page_html(worksheet(sheet(after=True), Form()))
    assert html.count("<svg") == 2
    assert len(set(re.findall(r"Aims are drawn (\d+) times", html))) == 1


@pytest.mark.parametrize(("paper", "size"), [("letter", (612, 792)), ("a4", (595, 842))])
def test_the_pdf_has_the_paper_that_was_asked_for(paper: str, size: tuple[int, int]) -> None:
    """Points: letter is 8.5 by 11 in, A4 210 by 297 mm (ISO 216)."""
    pdf = page_pdf(worksheet(sheet(), Form(paper=paper)))
    for page in PdfReader(io.BytesIO(pdf)).pages:
        assert (round(page.mediabox.width), round(page.mediabox.height)) == size


def test_the_pdf_is_tagged_and_its_drawing_has_a_text_to_be_heard() -> None:
    reader = PdfReader(io.BytesIO(page_pdf(PAGE)))
    root = reader.trailer["/Root"]
    assert root["/MarkInfo"]["/Marked"]
    assert root["/Lang"] == "en"
    assert "Axle 1, steer" in alternatives(root)


def alternatives(node: object, depth: int = 0) -> str:
    """Every alternative text of a structure tree."""
    node = node.get_object() if hasattr(node, "get_object") else node
    if depth > 12 or not hasattr(node, "get"):
        return ""
    told = str(node.get("/Alt", ""))
    below = node.get("/StructTreeRoot") or node.get("/K") or []
    for part in below if isinstance(below, list) else [below]:
        told += alternatives(part, depth + 1)
    return told


def test_every_page_of_paper_says_its_number_and_the_sheets() -> None:
    reader = PdfReader(io.BytesIO(page_pdf(worksheet(sheet(after=True), Form()))))
    for number, page in enumerate(reader.pages, 1):
        text = " ".join(page.extract_text().split())
        assert f"Page {number} of {len(reader.pages)}" in text
        assert "JOB-2031" in text


def attached(pdf: bytes) -> bytes:
    return PdfReader(io.BytesIO(pdf)).attachments["content.json"][0]


def shown_hash(text: str) -> str:
    match = re.search(r"SHA-256[^:]*: ?([0-9a-f ]+)", text)
    assert match
    return match[1].replace(" ", "")[:64]


def test_the_hash_is_that_of_the_data_which_either_file_carries() -> None:
    html, pdf = page_html(PAGE), page_pdf(PAGE)
    content = Reader(html).content.encode()
    assert attached(pdf) == content
    assert shown_hash(TEXTS["html"]) == shown_hash(TEXTS["pdf"]) == sha256(content).hexdigest()
    assert json.loads(content)["before"]["readings"][0]["marks"][0] == ["left", "3 5/16"]


def content_of(one: Sheet, form: Form) -> bytes:
    content = worksheet(one, form).content
    assert content is not None
    return content


@pytest.mark.parametrize("name", FLEET)
def test_a_sheet_can_be_made_again_from_its_content(name: str) -> None:
    done, checks = (Done("aim_axle", 3),), (Check("Kingpins", "worn", "é \u2028 <b>"),)
    one = Sheet(session(name), session(name, "tiny"), DETAILS, done, checks)
    content = content_of(one, Form())
    again = read_content(Sheet, content)
    assert again == one
    assert content_of(again, Form()) == content
    assert page_html(worksheet(again, Form("es"))) == page_html(worksheet(one, Form("es")))


def test_content_of_something_else_makes_no_sheet() -> None:
    for content in (b"[]", b"{}", b'{"before":{"round":{"vehicle":1}}}', b"x"):
        with pytest.raises((KeyError, TypeError, ValueError)):
            read_content(Sheet, content)


def test_language_paper_and_unit_change_the_look_and_not_the_hash() -> None:
    forms = [Form(), Form("es"), Form("fr", "a4", "mm", 16)]
    assert len({content_of(sheet(), form) for form in forms}) == 1


def test_any_other_reading_or_word_of_the_shop_changes_the_hash() -> None:
    one = sheet()
    other = one._replace(details=DETAILS._replace(notes="Nothing."))
    first, *rest = one.before.readings
    reread = first._replace(marks=(("left", "3 3/8"), first.marks[1]))
    third = one._replace(before=one.before._replace(readings=(reread, *rest)))
    assert len({content_of(each, Form()) for each in (one, other, third, sheet(after=True))}) == 4


def test_a_sheet_without_a_number_is_numbered_by_its_hash() -> None:
    page = worksheet(sheet(details=DETAILS._replace(number="")), Form())
    assert page.content is not None
    assert page.number == f"Sheet {sha256(page.content).hexdigest()[:12].upper()}"


def test_the_same_sheet_is_the_same_file_twice() -> None:
    assert page_pdf(PAGE) == page_pdf(PAGE)
    assert page_html(PAGE) == page_html(worksheet(sheet(), Form()))


def test_the_html_needs_nothing_from_outside() -> None:
    reader = Reader(page_html(PAGE))
    assert set(reader.tags).isdisjoint({"link", "img", "iframe", "object", "embed", "form"})
    for tag, attributes in reader.elements:
        assert {"src", "href", "style", "onload"}.isdisjoint(attributes), tag
    assert [a.get("type") for t, a in reader.elements if t == "script"] == ["application/json"]
    assert "url(" not in page_html(PAGE)
    assert "@import" not in page_html(PAGE)
    assert reader.open == []
    assert reader.wrong == []
