"""A sheet as a PDF and a drawing as a PNG, by Typst with the fonts that ship here.

Nothing that a person wrote becomes Typst markup: the template is a file of ours, and the texts
reach it as JSON data.
"""

import json
import threading
from collections.abc import Sequence
from functools import cache
from pathlib import Path
from typing import Any, Literal

import typst

from service.drawing.canvas import ACCENT, INK, Picture, printable
from service.drawing.page import (
    Block,
    Cell,
    Facts,
    Fill,
    Items,
    Lines,
    Page,
    Paragraph,
    Pictures,
    Signatures,
    Table,
    Text,
)

FOLDER = Path(__file__).resolve().parent
PAPERS = {"letter": "us-letter", "a4": "a4"}
POINTS_PER_INCH = 72.0

FIRST, LAST = "\u2068", "\u2069"
"""First strong isolate and its end: a shop's own words turn no writing direction but theirs."""

_kept = threading.local()


@cache
def _fonts() -> typst.Fonts:
    """The two fonts of this package and no other, so that every machine prints alike."""
    return typst.Fonts(
        include_system_fonts=False, include_embedded_fonts=False, font_paths=[FOLDER / "fonts"]
    )


def _compiled(
    template: str, form: Literal["pdf", "png"], ppi: float | None = None, **inputs: str
) -> bytes:
    """A template with its inputs; a compiler is kept for each thread, since it serves one."""
    compilers: dict[str, typst.Compiler] = _kept.__dict__.setdefault("compilers", {})
    if template not in compilers:
        compilers[template] = typst.Compiler(FOLDER / template, font_paths=_fonts())
    made: Any = compilers[template].compile(format=form, ppi=ppi, sys_inputs=inputs)
    return made if isinstance(made, bytes) else b"".join(made)


def page_pdf(page: Page) -> bytes:
    """The sheet as a tagged PDF of one page or more; blocks the thread while it is set."""
    data = {
        "language": page.language,
        "title": page.title,
        "number": printable(page.number),
        "shop": _text(page.shop),
        "shop_lines": [_text(line) for line in page.shop_lines if line.text],
        "paper": PAPERS[page.paper],
        "foot": printable(page.foot),
        "page_of": page.page_of,
        "hash_line": page.hash_line,
        "content": None if page.content is None else page.content.decode("ascii"),
        "ink": INK,
        "accent": ACCENT,
        "sections": [
            {
                "title": section.title,
                "whole": section.whole,
                "blocks": [_block(block) for block in section.blocks],
            }
            for section in page.sections
        ],
    }
    return _compiled("sheet.typ", "pdf", data=json.dumps(data))


def picture_png(picture: Picture, width: int) -> bytes:
    """The drawing as a PNG, `width` pixels wide; blocks the thread while it is drawn."""
    height = round(picture.height * width / picture.width)
    # Typst draws an image on as many whole pixels as its own shape asks for, and where these are
    # not the page's, leaves a row out to make it fit. So the drawing gets the shape of the page.
    own = f'width="{picture.width:g}" height="{picture.height:g}" viewBox'
    fitted = f'width="{width}" height="{height - 0.001}" preserveAspectRatio="none" viewBox'
    return _compiled(
        "picture.typ",
        "png",
        POINTS_PER_INCH,
        svg=picture.svg.replace(own, fitted, 1),
        width=str(width),
        height=str(height),
    )


def _block(block: Block) -> dict[str, Any]:
    match block:
        case Paragraph(text):
            return {"kind": "paragraph", "text": _text(text)}
        case Facts(rows):
            told = [[label, _cell(cell)] for label, cell in rows]
            return {"kind": "facts", "rows": told}
        case Table(headings, rows, widths):
            cells = [[_cell(cell) for cell in row] for row in rows]
            return {"kind": "table", "headings": list(headings), "rows": cells, "widths": widths}
        case Items(mark, items):
            listed = [{"text": _text(i.text), "below": [_text(t) for t in i.below]} for i in items]
            return {"kind": "items", "mark": mark, "items": listed}
        case Pictures(pictures, share):
            return {"kind": "pictures", "pictures": _pictures(pictures), "share": share}
        case Signatures(labels, date):
            return {"kind": "signatures", "labels": list(labels), "date": date}
        case Lines(count):
            return {"kind": "lines", "count": count}


def _pictures(pictures: Sequence[Picture]) -> list[dict[str, Any]]:
    return [
        {
            "svg": one.svg,
            "alt": printable(f"{one.title}. {one.description}"),
            "width": one.width,
            "height": one.height,
        }
        for one in pictures
    ]


def _cell(cell: Cell) -> dict[str, Any]:
    if isinstance(cell, Fill):
        return {"fill": True, "text": cell.hint}
    return _text(cell)


def _text(text: Text) -> dict[str, Any]:
    told = printable(text.text)
    if text.own:
        told = "\n".join(f"{FIRST}{line}{LAST}" for line in told.split("\n"))
    return {"text": told, "strong": text.strong, "small": text.small}
