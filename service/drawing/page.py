"""A sheet as a list of sections and blocks, before it is HTML or PDF.

Every text here is plain: what writes a page escapes it. `Text.own` marks what a shop or a
customer wrote, whose writing direction must not reach beyond it.
"""

from collections.abc import Sequence
from typing import NamedTuple

from service.drawing.canvas import Picture


class Text(NamedTuple):
    """A text, and how it is set: in bold, smaller, or in a shop's own words."""

    text: str
    strong: bool = False
    small: bool = False
    own: bool = False


class Fill(NamedTuple):
    """A place to write in by hand; `hint` stands in it small, `wide` counts character widths."""

    hint: str = ""
    wide: int = 0


Cell = Text | Fill


class Paragraph(NamedTuple):
    """A paragraph; lines of an own text are kept."""

    text: Text


class Facts(NamedTuple):
    """Labels with what they name."""

    rows: Sequence[tuple[str, Cell]]


class Table(NamedTuple):
    """Rows under headings; the first cell of a row names it.

    `widths` are shares of the page's width, in any unit; without them columns are as wide as
    their texts.
    """

    headings: Sequence[str]
    rows: Sequence[Sequence[Cell]]
    widths: Sequence[float] = ()


class Item(NamedTuple):
    """An entry of a list with lines below it."""

    text: Text
    below: Sequence[Text] = ()


class Items(NamedTuple):
    """A list: `mark` is "number", "box" for something to be ticked off, or "dash"."""

    mark: str
    items: Sequence[Item]


class Pictures(NamedTuple):
    """Drawings side by side where there is room; one alone takes a share of the page's width."""

    pictures: Sequence[Picture]
    share: float = 0.82


class Signatures(NamedTuple):
    """Lines to sign on, by whom; a date line stands beside each."""

    labels: Sequence[str]
    date: str


class Lines(NamedTuple):
    """Empty lines to write on."""

    lines: int


Block = Paragraph | Facts | Table | Items | Pictures | Signatures | Lines


class Section(NamedTuple):
    """A titled part of a sheet; `whole` asks that no page ends within it."""

    title: str
    blocks: Sequence[Block]
    whole: bool = False


class Page(NamedTuple):
    """A whole sheet. `paper` is "letter" or "a4".

    `content` are the bytes whose hash the sheet shows, None where it shows none; `foot` is
    repeated on every page of paper.
    """

    language: str
    title: str
    shop: Text
    shop_lines: Sequence[Text]
    number: str
    sections: Sequence[Section]
    foot: str
    paper: str = "letter"
    content: bytes | None = None
    hash_line: str = ""
    page_of: str = ""
