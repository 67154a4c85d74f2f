"""Whatever a shop writes, a sheet stays what it is: no markup of theirs, nothing lost or moved."""

import io
from unicodedata import combining

import pytest
from drawing.fleet import FLEET, drawn
from drawing.hostile import HOSTILE, READABLE
from drawing.html_reading import Reader
from drawing.sessions import sheet
from drawing.svg_reading import parsed, texts
from hypothesis import given, settings
from hypothesis import strategies as st
from pypdf import PdfReader

from service.drawing.blank import blank_worksheet
from service.drawing.canvas import printable
from service.drawing.page_html import page_html
from service.drawing.page_pdf import page_pdf, picture_png
from service.drawing.plan_view import Panel, plan_view
from service.drawing.sheet import FACTS, Blank, Details, Form
from service.drawing.subject import Session, Taken
from service.drawing.words import words_of
from service.drawing.worksheet import worksheet

ENGLISH = words_of("en", "in")
TRACTOR = FLEET["three-axle tractor"]
TURNING = "\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069\u200e\u200f"


def everywhere(text: str) -> Details:
    """A shop that writes one text in every field."""
    return Details(
        text, text, (text,) * 8, tuple((name, text) for name in FACTS), (text, text), text, text
    )


def hostile_sheet(text: str) -> Session:
    """A session whose readings and sources, which come from clients too, hold the text."""
    one = sheet().before
    findings = tuple(f._replace(source=text) for f in one.round.findings)
    taken = (Taken("frame_gap", 2, (("left", text), ("right", text))),)
    return one._replace(
        round=one.round._replace(findings=findings),
        readings=taken,
        target_set=text,
        engine=text,
    )


def elements_of(text: str) -> list[str]:
    page = worksheet(sheet(details=everywhere(text))._replace(before=hostile_sheet(text)), Form())
    reader = Reader(page_html(page))
    assert reader.open == []
    assert reader.wrong == []
    return reader.tags


USUAL = elements_of("x")


@pytest.mark.parametrize("name", HOSTILE)
def test_a_sheet_has_the_same_elements_whatever_is_written_on_it(name: str) -> None:
    assert elements_of(HOSTILE[name]) == USUAL


@given(st.text(max_size=200))
@settings(max_examples=30, deadline=None)
def test_any_text_leaves_the_elements_of_a_sheet_alone(text: str) -> None:
    assert elements_of(text or "x") == USUAL


@pytest.mark.parametrize("name", READABLE)
def test_html_and_pdf_show_it_as_it_was_written(name: str) -> None:
    page = worksheet(sheet(details=Details(notes=HOSTILE[name])), Form())
    assert HOSTILE[name] in Reader(page_html(page)).text
    pdf = PdfReader(io.BytesIO(page_pdf(page)))
    told = " ".join(" ".join(p.extract_text() for p in pdf.pages).split())
    assert "".join(HOSTILE[name].split()) in told.replace(" ", "").replace("\u2068", "").replace(
        "\u2069", ""
    )


@pytest.mark.parametrize("name", HOSTILE)
def test_a_pdf_is_made_of_it_and_keeps_the_rest_of_the_sheet(name: str) -> None:
    text = HOSTILE[name]
    page = worksheet(sheet(details=everywhere(text))._replace(before=hostile_sheet(text)), Form())
    pdf = PdfReader(io.BytesIO(page_pdf(page)))
    read = "".join(one.extract_text() + " " for one in pdf.pages)
    # What reads a PDF back knows one text for each glyph: an A that bore marks once bears them
    # wherever it stands.
    told = " ".join("".join(char for char in read if not combining(char)).split())
    assert "Axle 3: shift it 1/4 in to the left." in told
    assert "Road-test the vehicle." in told
    root = pdf.trailer["/Root"]
    assert "/OpenAction" not in root
    assert "/AA" not in root
    assert list(pdf.attachments) == ["content.json"]


@pytest.mark.parametrize("name", HOSTILE)
def test_a_blank_sheet_bears_it_too(name: str) -> None:
    page = blank_worksheet(Blank(TRACTOR, everywhere(HOSTILE[name])), Form())
    assert Reader(page_html(page)).wrong == []
    assert page_pdf(page).startswith(b"%PDF-")


@pytest.mark.parametrize("name", HOSTILE)
def test_a_drawing_stays_well_formed_and_shows_what_can_be_shown(name: str) -> None:
    text = HOSTILE[name]
    picture = plan_view([Panel(drawn(TRACTOR), text), Panel(drawn(TRACTOR), text)], ENGLISH, text)
    root = parsed(picture.svg)
    assert {node.tag.rpartition("}")[2] for node in root.iter()} <= {
        "svg", "title", "desc", "rect", "path", "text", "tspan", "g", "circle",
    }  # fmt: skip
    assert not [name for node in root.iter() for name in node.keys() if name.startswith("on")]  # noqa: SIM118
    drawn_text = "".join("".join(texts(root)).split())
    start = "".join(printable(text).split())[:12]
    assert start in drawn_text
    assert picture_png(picture, 600).startswith(b"\x89PNG\r\n\x1a\n")


@given(st.text(max_size=200))
@settings(max_examples=100, deadline=None)
def test_any_text_leaves_a_drawing_well_formed(text: str) -> None:
    parsed(plan_view([Panel(drawn(TRACTOR), text)], ENGLISH, text).svg)


@given(st.text(alphabet=st.characters() | st.sampled_from(TURNING), max_size=60))
def test_what_is_printed_turns_no_writing_direction(text: str) -> None:
    assert set(printable(text)).isdisjoint(TURNING)


def test_a_shops_own_words_are_isolated_in_the_page() -> None:
    reader = Reader(page_html(worksheet(sheet(details=everywhere("מספר")), Form())))
    isolates = [attributes for tag, attributes in reader.elements if tag == "bdi"]
    assert len(isolates) == 1 + 8 + len(FACTS) + 2 + 1 + 1
    assert all(attributes == {"dir": "auto"} for attributes in isolates)
