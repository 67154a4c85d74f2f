"""Drawings and sheets as answers: media type and language by the request, slow work aside."""

import asyncio
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from functools import cache
from typing import Annotated, Any, TypeVar

from litestar import Request
from litestar.params import HeaderParameter

from service.contract.media import chosen
from service.contract.problem_catalogue import UNAVAILABLE
from service.contract.problems import ProblemError
from service.contract.replies import Reply
from service.drawing.canvas import Picture
from service.drawing.page import Page
from service.drawing.page_html import page_html, style_hash
from service.locale.negotiation import language_of

T = TypeVar("T")

SVG, PNG = "image/svg+xml", "image/png"
HTML, PDF = "text/html", "application/pdf"
PICTURES = (SVG, PNG)
SHEETS = (HTML, PDF)

AT_ONCE = 2
"""Sheets that are set at the same time in one process; each takes a core for some 30 ms."""
WAITING = 32
"""Sheets that may wait for their turn; one more is told to come again."""

AcceptLanguage = Annotated[
    str | None,
    HeaderParameter(
        name="Accept-Language",
        description="Languages the reader likes (RFC 9110): English, Spanish and French are there.",
        max_length=2000,
    ),
]

VARY = {"Vary": "Accept, Accept-Language"}
_HEADERS = {**VARY, "X-Content-Type-Options": "nosniff"}
_in_hand = 0


@cache
def _setters() -> ThreadPoolExecutor:
    return ThreadPoolExecutor(AT_ONCE, thread_name_prefix="sheet")


async def off_the_loop(work: Callable[..., T], *arguments: Any) -> T:
    """Do blocking work in one of a few threads; 503 when too much is waiting already."""
    global _in_hand  # noqa: PLW0603 - one count for the process, as there is one pool
    if _in_hand >= AT_ONCE + WAITING:
        detail = "Too many sheets are being set at this moment."
        raise ProblemError(UNAVAILABLE, detail, headers={"Retry-After": "2"})
    _in_hand += 1
    try:
        return await asyncio.get_running_loop().run_in_executor(_setters(), work, *arguments)
    finally:
        _in_hand -= 1


def accepted(request: Request[Any, Any, Any], produced: tuple[str, ...]) -> str:
    """The media type to answer in; the door has refused what admits none."""
    for name, value in request.scope["headers"]:
        if name == b"accept":
            return chosen(value, produced) or produced[0]
    return produced[0]


def reader_language(accept_language: str | None) -> str:
    """The language to answer in."""
    return language_of(accept_language or "")


async def picture_answer(
    picture: Picture, media_type: str, language: str, width: int
) -> Reply[bytes]:
    """A drawing as SVG, or as a PNG of a width in pixels."""
    headers = {**_HEADERS, "Content-Language": language}
    if media_type == PNG:
        # Imported here: no other request needs the typesetter, and it takes time and memory.
        from service.drawing.page_pdf import picture_png

        png = await off_the_loop(picture_png, picture, width)
        return Reply(png, media_type=PNG, headers=headers)
    headers["Content-Security-Policy"] = "default-src 'none'"
    return Reply(picture.svg.encode(), media_type=SVG, headers=headers)


async def page_answer(page: Page, media_type: str) -> Reply[bytes]:
    """A sheet as HTML or PDF."""
    headers = {**_HEADERS, "Content-Language": page.language}
    if media_type == PDF:
        from service.drawing.page_pdf import page_pdf

        headers["Content-Disposition"] = 'inline; filename="worksheet.pdf"'
        return Reply(await off_the_loop(page_pdf, page), media_type=PDF, headers=headers)
    headers["Content-Security-Policy"] = f"default-src 'none'; style-src '{style_hash(page.paper)}'"
    html = page_html(page).encode()
    return Reply(html, media_type=f"{HTML}; charset=utf-8", headers=headers)
