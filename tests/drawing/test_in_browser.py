"""Sheets and drawings in a real browser: at phone width, on paper, text by text. Invented."""

import io
from itertools import combinations
from pathlib import Path

import pytest
from drawing.browser import measured, printed
from drawing.fleet import FLEET, drawn
from drawing.hostile import HOSTILE
from drawing.sessions import sheet
from drawing.test_hostile_texts import everywhere
from pypdf import PdfReader

from service.drawing.blank import blank_worksheet
from service.drawing.canvas import Box
from service.drawing.page_html import page_html
from service.drawing.plan_view import Panel, plan_view
from service.drawing.sheet import Blank, Form
from service.drawing.words import words_of
from service.drawing.worksheet import worksheet

PHONE, LETTER = 360, 816
"""Pixels: a small phone, and letter paper at 96 to the inch."""

OVERFLOW = """
const wide = [];
for (const node of document.body.querySelectorAll("*"))
  if (node.getBoundingClientRect().right > innerWidth + 1 && !node.closest("svg, thead"))
    wide.push(node.tagName + " " + node.textContent.slice(0, 60));
return {page: document.documentElement.scrollWidth, window: innerWidth, wide: wide};
"""

BOXES = """
return [...document.querySelectorAll("svg text")].map(node => {
  const box = node.getBBox();
  return [node.textContent, box.x, box.y, box.x + box.width, box.y + box.height];
});
"""

SHEETS = {
    "one round": page_html(worksheet(sheet(), Form())),
    "two rounds in French": page_html(worksheet(sheet(after=True), Form("fr", "a4", "mm"))),
    "blank in Spanish": page_html(blank_worksheet(Blank(FLEET["four-axle trailer"]), Form("es"))),
    "a long word everywhere": page_html(
        worksheet(sheet(details=everywhere(HOSTILE["long word"])), Form())
    ),
    "right to left everywhere": page_html(
        worksheet(sheet(details=everywhere(HOSTILE["right to left"])), Form())
    ),
}


@pytest.mark.parametrize("width", [PHONE, LETTER])
@pytest.mark.parametrize("name", SHEETS)
def test_nothing_of_a_sheet_reaches_beyond_the_window(
    name: str, width: int, tmp_path: Path
) -> None:
    found = measured(tmp_path, SHEETS[name], OVERFLOW, width)
    assert found["window"] == width
    assert found["wide"] == []
    assert found["page"] <= width


@pytest.mark.parametrize(
    ("form", "size"),
    [(Form(), (612, 792)), (Form("es", "a4", "mm"), (595, 842))],
    ids=["letter", "A4"],
)
def test_a_sheet_prints_on_its_paper(form: Form, size: tuple[int, int], tmp_path: Path) -> None:
    pdf = PdfReader(io.BytesIO(printed(tmp_path, page_html(worksheet(sheet(after=True), form)))))
    for page in pdf.pages:
        assert abs(float(page.mediabox.width) - size[0]) < 1.5
        assert abs(float(page.mediabox.height) - size[1]) < 1.5
    assert len(pdf.pages) <= 5
    told = " ".join("".join(page.extract_text() for page in pdf.pages).split())
    assert "JOB-2031" in told


def inked(box: Box) -> Box:
    """A box without the pixel above and below that it gains by rounding of ascent and descent."""
    return Box(box.left, box.top + 0.75, box.right, box.bottom - 0.75)


@pytest.mark.parametrize(
    "name", ["three-axle tractor", "ten-axle truck", "twelve-axle trailer", "single-axle dolly"]
)
@pytest.mark.parametrize("language", ["en", "fr"])
def test_texts_of_a_drawing_keep_within_their_boxes_in_the_browsers_font(
    name: str, language: str, tmp_path: Path
) -> None:
    """The browser takes the first font of the list that it has; half a pixel is rounding."""
    panels = [Panel(drawn(FLEET[name]), "Before"), Panel(drawn(FLEET[name]), "After")]
    picture = plan_view(panels, words_of(language, "mm"), "Unit 4711")
    html = f"<!doctype html><meta charset=utf-8><body>{picture.svg}</body>"
    seen = measured(tmp_path, html, BOXES, 1600)
    assert [text for text, *_ in seen] == [text for text, _ in picture.texts]
    for (text, *sides), (_, box) in zip(seen, picture.texts, strict=True):
        left, _, right, _ = sides
        assert box.left - 0.5 <= left, text
        assert right <= box.right + 0.5, text
    boxes = [(text, inked(Box(*sides))) for text, *sides in seen]
    assert [(a, b) for (a, box), (b, other) in combinations(boxes, 2) if box.meets(other)] == []
