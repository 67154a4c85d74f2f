"""A sheet as one HTML file that needs nothing else: it prints on paper and reads on a phone."""

from base64 import b64encode
from collections.abc import Sequence
from functools import singledispatch
from hashlib import sha256

from service.drawing.canvas import ACCENT, INK, escaped
from service.drawing.page import (
    Cell,
    Facts,
    Fill,
    Items,
    Lines,
    Page,
    Paragraph,
    Pictures,
    Section,
    Signatures,
    Table,
    Text,
)

PAPERS = {"letter": "letter", "a4": "A4"}
TICK = "\u2610"
MOST_ON_A_PHONE = 3
"""Columns of a table that still fit a phone side by side."""

_STYLE = f"""
*{{box-sizing:border-box}}
body{{margin:0 auto;padding:1rem;max-width:60rem;color:{INK};background:#fff;
font:15px/1.4 Arial,"Liberation Sans","Noto Sans",Roboto,"DejaVu Sans",sans-serif;
overflow-wrap:anywhere}}
header{{display:flex;flex-wrap:wrap;gap:.25rem 2rem;justify-content:space-between;
border:1.5px solid {INK};padding:.6rem .8rem}}
header p,header h1{{margin:0}}
h1{{font-size:1.25rem}}
h2{{font-size:1.05rem;margin:1.4rem 0 .5rem;border-bottom:1.5px solid {ACCENT};color:{ACCENT}}}
p,ul,ol{{margin:.4rem 0}}
bdi{{white-space:pre-wrap}}
table{{border-collapse:collapse;width:100%;margin:.4rem 0}}
th,td{{border:1px solid {INK};padding:.2rem .4rem;text-align:start;vertical-align:top}}
thead th{{font-size:.85rem}}
tbody th{{font-weight:normal}}
dl{{display:grid;grid-template-columns:minmax(8rem,max-content) 1fr;gap:.15rem 1rem;margin:.4rem 0}}
dt,dd{{margin:0}}
dt{{color:{ACCENT}}}
small{{font-size:.85rem}}
.fill{{display:inline-block;min-width:100%;border-bottom:1px solid {INK};min-height:1.5em}}
td .fill{{border:0;min-width:3.5rem}}
ul.box,ul.dash{{list-style:none;padding-left:1.4rem}}
ul li,ol li{{margin:.2rem 0}}
ul.box>li::before{{content:"{TICK}";position:absolute;margin-left:-1.4rem}}
ul.dash>li::before{{content:"\\2013";position:absolute;margin-left:-1.1rem}}
li small{{display:block}}
.pictures{{display:flex;flex-wrap:wrap;gap:1rem}}
.pictures svg{{flex:1 1 20rem;width:100%;max-width:36rem;height:auto}}
.sign{{display:grid;grid-template-columns:2fr 1fr;gap:1.6rem 2rem;margin-top:1.6rem}}
.sign span{{border-top:1px solid {INK};padding-top:.2rem}}
footer{{margin-top:1.4rem;border-top:1.5px solid {INK};padding-top:.4rem;font-size:.8rem}}
@media (max-width:40rem){{
body{{padding:.6rem}}
dl{{grid-template-columns:minmax(0,2fr) minmax(0,3fr)}}
.wide thead{{position:absolute;clip-path:inset(50%);height:1px;overflow:hidden;white-space:nowrap}}
.wide,.wide :is(tbody,tr,th,td){{display:block;border:0;padding:0}}
.wide tr{{border:1px solid {INK};padding:.3rem .5rem;margin:.4rem 0}}
.wide tbody th{{font-weight:bold}}
.wide td[data-head]:not([data-head=""])::before{{content:attr(data-head)": ";color:{ACCENT}}}
.wide td:empty{{display:none}}
.wide td .fill{{border-bottom:1px solid {INK};min-width:8rem}}
}}
@media print{{
body{{padding:0;max-width:none;font-size:9.5pt}}
section.whole,tr,li,.sign,.pictures svg{{break-inside:avoid}}
h2{{break-after:avoid}}
thead{{display:table-header-group}}
.pictures svg{{max-height:21cm}}
}}
"""


def page_html(page: Page) -> str:
    """The whole file. What a person wrote is escaped, and isolated where it is a shop's own."""
    style = style_of(page.paper)
    sections = "".join(
        f"<section{' class=whole' if section.whole else ''}>"
        f"<h2>{number}. {escaped(section.title)}</h2>{_blocks(section)}</section>"
        for number, section in enumerate(page.sections, 1)
    )
    title = f"{page.title}, {page.foot}" if page.foot else page.title
    return (
        f'<!doctype html>\n<html lang="{page.language}"><head><meta charset="utf-8">'
        f'<meta name="viewport" content="width=device-width, initial-scale=1">'
        f"<title>{escaped(title)}</title><style>{style}</style></head><body>"
        f"{_head(page)}<main>{sections}</main>{_foot(page)}</body></html>\n"
    )


def style_of(paper: str) -> str:
    """The style sheet of a sheet on one kind of paper."""
    return f"@page{{size:{PAPERS[paper]};margin:14mm}}{_STYLE}"


def style_hash(paper: str) -> str:
    """Source expression that admits the style sheet in a Content-Security-Policy."""
    return "sha256-" + b64encode(sha256(style_of(paper).encode()).digest()).decode()


def _head(page: Page) -> str:
    shop = "".join(f"<p>{_text(line)}</p>" for line in page.shop_lines if line.text)
    name = f"<p><strong>{_text(page.shop)}</strong></p>" if page.shop.text else ""
    number = f"<p>{escaped(page.number)}</p>" if page.number else ""
    return (
        f"<header><div>{name}{shop}</div><div><h1>{escaped(page.title)}</h1>{number}</div></header>"
    )


def _foot(page: Page) -> str:
    if page.content is None:
        return ""
    data = page.content.decode("ascii")
    return (
        f"<footer>{escaped(page.hash_line)}</footer>"
        f'<script type="application/json" id="content">{data}</script>'
    )


def _blocks(section: Section) -> str:
    return "".join(_block(block) for block in section.blocks)


@singledispatch
def _block(block: object) -> str:
    raise TypeError(f"{type(block).__name__} is no block of a page")


@_block.register
def _(block: Paragraph) -> str:
    return f"<p>{_text(block.text)}</p>"


@_block.register
def _(block: Facts) -> str:
    rows = "".join(f"<dt>{escaped(label)}</dt><dd>{_cell(cell)}</dd>" for label, cell in block.rows)
    return f"<dl>{rows}</dl>"


@_block.register
def _(block: Table) -> str:
    heads = [escaped(heading) for heading in block.headings]
    head = "".join(f'<th scope="col">{heading}</th>' for heading in heads)
    rows = "".join(f"<tr>{_row(row, heads)}</tr>" for row in block.rows)
    # On a phone a row of many columns becomes a list; a few columns stay a table.
    kind = " class=wide" if len(heads) > MOST_ON_A_PHONE else ""
    return f"<table{kind}><thead><tr>{head}</tr></thead><tbody>{rows}</tbody></table>"


def _row(row: Sequence[Cell], heads: Sequence[str]) -> str:
    first, *rest = row
    cells = "".join(
        f'<td data-head="{head}">{_cell(cell)}</td>'
        for cell, head in zip(rest, heads[1:], strict=True)
    )
    return f'<th scope="row">{_cell(first)}</th>{cells}'


@_block.register
def _(block: Items) -> str:
    items = "".join(
        f"<li>{_text(item.text)}{''.join(f'<small>{escaped(t.text)}</small>' for t in item.below)}"
        "</li>"
        for item in block.items
    )
    if block.mark == "number":
        return f"<ol>{items}</ol>"
    return f'<ul class="{block.mark}">{items}</ul>'


@_block.register
def _(block: Pictures) -> str:
    return f'<div class="pictures">{"".join(one.svg for one in block.pictures)}</div>'


@_block.register
def _(block: Signatures) -> str:
    lines = "".join(
        f"<span>{escaped(label)}</span><span>{escaped(block.date)}</span>" for label in block.labels
    )
    return f'<div class="sign">{lines}</div>'


@_block.register
def _(block: Lines) -> str:
    return '<span class="fill"></span>' * block.lines


def _cell(cell: Cell) -> str:
    if isinstance(cell, Fill):
        return f'<span class="fill">{escaped(cell.hint)}</span>'
    return _text(cell)


def _text(text: Text) -> str:
    told = escaped(text.text)
    if text.own:
        told = f'<bdi dir="auto">{told}</bdi>'
    if text.strong:
        told = f"<strong>{told}</strong>"
    return f"<small>{told}</small>" if text.small else told
