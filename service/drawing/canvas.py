"""SVG pieces in the order they are drawn, with the box of every text.

Everything is attributes: no style sheet, no script and nothing from outside, so that the drawing
stands on its own and inside an HTML page or a PDF alike.
"""

import re
from functools import lru_cache
from typing import NamedTuple

from service.drawing.metrics import ASCENT, DESCENT, FAMILIES, width_of

INK = "#1a1a1a"
ACCENT = "#1d4e89"
PAPER = "#ffffff"

LONGEST_KEPT = 100
"""Characters of a text whose escaped form is kept: words of the catalogues, not of shops."""

_UNPRINTABLE = re.compile(
    "[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\u200e\u200f\u2028-\u202e\u2066-\u2069"
    "\ud800-\udfff\ufdd0-\ufdef\ufffe\uffff]"
)


class Box(NamedTuple):
    """A rectangle, y downward."""

    left: float
    top: float
    right: float
    bottom: float

    def meets(self, other: "Box") -> bool:
        """Whether the two share more than an edge."""
        return (
            self.left < other.right
            and other.left < self.right
            and self.top < other.bottom
            and other.top < self.bottom
        )


class Picture(NamedTuple):
    """A finished drawing; `texts` has every text that is drawn, with its box."""

    svg: str
    width: float
    height: float
    title: str
    description: str
    texts: tuple[tuple[str, Box], ...]


def printable(text: str) -> str:
    """The text without what XML 1.0 forbids and without marks that turn the writing direction.

    Half of a surrogate pair and control characters have no look; an override that is opened and
    never closed would turn what follows on the sheet.
    """
    return _UNPRINTABLE.sub("", text)


def escaped(text: str) -> str:
    """The text for use in XML or HTML, in content and in attributes alike."""
    return _kept_escaped(text) if len(text) <= LONGEST_KEPT else _escaped(text)


def _escaped(text: str) -> str:
    return (
        printable(text)
        .replace("&", "&amp;")
        .replace("<", "&lt;")
        .replace(">", "&gt;")
        .replace('"', "&quot;")
        .replace("'", "&#39;")
    )


_kept_escaped = lru_cache(maxsize=4096)(_escaped)


class Canvas:
    """Collects the pieces of one drawing."""

    def __init__(self) -> None:
        self.parts: list[str] = []
        self.texts: list[tuple[str, Box]] = []
        self.taken: list[Box] = []

    def line(
        self,
        x1: float,
        y1: float,
        x2: float,
        y2: float,
        width: float = 0.8,
        dash: str = "",
        ink: str = INK,
    ) -> None:
        """A straight line; `dash` as in SVG."""
        dashes = f' stroke-dasharray="{dash}"' if dash else ""
        self.parts.append(
            f'<path d="M{x1:.1f} {y1:.1f}L{x2:.1f} {y2:.1f}" stroke="{ink}" '
            f'stroke-width="{width}"{dashes}/>'
        )

    def path(
        self, d: str, width: float = 0.8, ink: str = INK, fill: str = "none", dash: str = ""
    ) -> None:
        """Any path."""
        dashes = f' stroke-dasharray="{dash}"' if dash else ""
        self.parts.append(
            f'<path d="{d}" stroke="{ink}" stroke-width="{width}" fill="{fill}"{dashes}/>'
        )

    def raw(self, piece: str) -> None:
        """A piece that is SVG already."""
        self.parts.append(piece)

    def text(
        self,
        x: float,
        y: float,
        text: str,
        size: float,
        *,
        bold: bool = False,
        anchor: str = "start",
        ink: str = INK,
    ) -> None:
        """One line of text with its baseline at y; `anchor` start, middle or end."""
        text = printable(text)
        self._note(text, box_of(x, y, text, size, bold, anchor))
        weight = ' font-weight="bold"' if bold else ""
        held = f' text-anchor="{anchor}"' if anchor != "start" else ""
        self.parts.append(
            f'<text x="{x:.1f}" y="{y:.1f}" font-size="{size:g}"{weight}{held} fill="{ink}">'
            f"{escaped(text)}</text>"
        )

    def runs(self, x: float, y: float, text: str, bold: str, size: float, wide: float) -> None:
        """A line that ends in bold, at most `wide`."""
        self._note(text + bold, Box(x, y - ASCENT * size, x + wide, y + DESCENT * size))
        end = f'<tspan font-weight="bold">{escaped(bold)}</tspan>' if bold else ""
        self.parts.append(
            f'<text x="{x:.1f}" y="{y:.1f}" font-size="{size:g}" fill="{INK}">'
            f"{escaped(text)}{end}</text>"
        )

    def text_if_free(self, x: float, y: float, text: str, size: float, anchor: str) -> bool:
        """The same on a white ground, only where no other text and nothing taken is in its way."""
        box = box_of(x, y, text, size, False, anchor)
        if any(box.meets(other) for other in self.taken):
            return False
        self.parts.append(
            f'<rect x="{box.left:.1f}" y="{box.top:.1f}" width="{box.right - box.left:.1f}" '
            f'height="{box.bottom - box.top:.1f}" fill="{PAPER}"/>'
        )
        self.text(x, y, text, size, anchor=anchor)
        return True

    def take(self, box: Box) -> None:
        """Keep optional texts out of a place."""
        self.taken.append(box)

    def _note(self, text: str, box: Box) -> None:
        self.texts.append((text, box))
        self.taken.append(box)

    def finish(
        self, width: float, height: float, title: str, description: str, prefix: str, language: str
    ) -> Picture:
        """The whole SVG; `prefix` keeps its ids apart from others in one page."""
        head = (
            f'<svg xmlns="http://www.w3.org/2000/svg" width="{width:g}" height="{height:g}" '
            f'viewBox="0 0 {width:g} {height:g}" role="img" lang="{language}" '
            f'aria-labelledby="{prefix}-title {prefix}-desc" font-family="{FAMILIES}" '
            f'fill="none"><title id="{prefix}-title">{escaped(title)}</title>'
            f'<desc id="{prefix}-desc">{escaped(description)}</desc>'
            f'<rect width="{width:g}" height="{height:g}" fill="{PAPER}"/>'
        )
        svg = f"{head}{''.join(self.parts)}</svg>\n"
        return Picture(svg, width, height, title, description, tuple(self.texts))


def box_of(x: float, y: float, text: str, size: float, bold: bool, anchor: str) -> Box:
    """The most room that a line of text may take."""
    wide = width_of(text, size, bold)
    left = x - (wide if anchor == "end" else wide / 2 if anchor == "middle" else 0.0)
    return Box(left, y - ASCENT * size, left + wide, y + DESCENT * size)
