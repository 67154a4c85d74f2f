"""What drawings and sheets cost beside encoding the solution: `python tests/benchmarks/drawing.py`.

A three-axle tractor before and after the work, and a ten-axle truck. Each figure is the best of
several runs in this process, of its processor time where it stays in one thread; the ratios are of
figures of one run. Everything is invented.
"""

import sys
from collections.abc import Callable
from pathlib import Path
from time import process_time
from timeit import repeat

import msgspec

ROOT = Path(__file__).resolve().parents[2]
sys.path[:1] = [str(ROOT), str(ROOT / "tests")]

from drawing.fleet import FLEET, drawn  # noqa: E402

from service.api.drawings import plan_view_of  # noqa: E402
from service.api.solved_rounds import solved_rounds  # noqa: E402
from service.api.worksheets import details_of, sheet_of  # noqa: E402
from service.contract.worksheets import WorksheetRequest  # noqa: E402
from service.drawing.blank import blank_worksheet  # noqa: E402
from service.drawing.canvas import Picture  # noqa: E402
from service.drawing.content import content_bytes, read_content  # noqa: E402
from service.drawing.page import Block, Item, Items, Page, Pictures, Table, Text  # noqa: E402
from service.drawing.page_html import page_html  # noqa: E402
from service.drawing.page_pdf import page_pdf, picture_png  # noqa: E402
from service.drawing.plan_view import Panel, plan_view  # noqa: E402
from service.drawing.sheet import Blank, Form, Sheet  # noqa: E402
from service.drawing.words import words_of  # noqa: E402
from service.drawing.worksheet import worksheet  # noqa: E402

EXAMPLE = ROOT / "openapi" / "examples" / "worksheet-request.json"


def milliseconds(task: Callable[[], object], number: int) -> float:
    """The best of forty runs, in milliseconds of processor time a call."""
    return min(repeat(task, timer=process_time, number=number, repeat=40)) / number * 1e3


def _changed(page: Page, number: int) -> Page:
    """The page with another word in each of its cells, lists and drawings."""

    def told(text: Text) -> Text:
        return text._replace(text=f"{text.text} {number}")

    def block(one: Block) -> Block:
        match one:
            case Table(headings, rows, widths):
                cells = [[told(c) if isinstance(c, Text) else c for c in row] for row in rows]
                return Table(headings, cells, widths)
            case Items(mark, items):
                return Items(mark, [Item(told(item.text), item.below) for item in items])
            case Pictures(pictures, share):
                return Pictures([_redrawn(one, number) for one in pictures], share)
        return one

    sections = [part._replace(blocks=[block(one) for one in part.blocks]) for part in page.sections]
    return page._replace(sections=sections, number=f"{page.number} {number}")


def _redrawn(picture: Picture, number: int) -> Picture:
    return picture._replace(svg=picture.svg.replace(": ", f": {number} "))


def main() -> None:
    """Print what each piece costs, in milliseconds and as ratios."""
    request = msgspec.json.decode(EXAMPLE.read_bytes(), type=WorksheetRequest)
    rounds = solved_rounds(request.before, request.after)
    sheet = sheet_of(rounds, details_of(request.details))
    alone = sheet._replace(after=None, done=())
    page, one_page = worksheet(sheet, Form()), worksheet(alone, Form())
    content = content_bytes(sheet)
    blank = blank_worksheet(Blank(sheet.before.round.vehicle), Form())
    ten = drawn(FLEET["ten-axle truck"])
    english = words_of("en", "in")
    picture = plan_view_of(rounds, "en", "in")
    encoder = msgspec.json.Encoder()
    encode = milliseconds(lambda: encoder.encode(rounds[0].solution), 200)
    print(f"{len(page_html(page))} bytes of HTML, {len(page_pdf(page))} bytes of PDF")
    print(f"{'msgspec encode of one solution':<48} {encode:8.4f} ms    1.0")
    numbers = iter(range(10_000_000))

    def pdf_of(one: Page) -> bytes:
        # The typesetter keeps what it set before, so that no two pages here are alike.
        return page_pdf(_changed(one, next(numbers)))

    def png_of(one: Picture) -> bytes:
        return picture_png(_redrawn(one, next(numbers)), 1200)

    tasks: dict[str, tuple[Callable[[], object], int]] = {
        "SVG of one round (the target is 1 ms)": (lambda: plan_view_of(rounds[:1], "en", "in"), 50),
        "SVG of two rounds side by side": (lambda: plan_view_of(rounds, "en", "in"), 50),
        "SVG of a ten-axle truck": (lambda: plan_view([Panel(ten)], english), 50),
        "worksheet laid out, two rounds": (lambda: worksheet(sheet, Form()), 20),
        "content read back": (lambda: read_content(Sheet, content), 20),
        "HTML of that page": (lambda: page_html(page), 50),
        "PDF of one round (the target is 50 ms)": (lambda: pdf_of(one_page), 1),
        "PDF of two rounds": (lambda: pdf_of(page), 1),
        "PDF of a blank sheet": (lambda: pdf_of(blank), 1),
        "PNG of two rounds, 1200 pixels": (
            lambda: picture_png(_redrawn(picture, next(numbers)), 1200),
            1,
        ),
    }
    for name, (task, number) in tasks.items():
        cost = milliseconds(task, number)
        print(f"{name:<48} {cost:8.3f} ms {cost / encode:6.0f}")


if __name__ == "__main__":
    main()
