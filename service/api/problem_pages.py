"""`/problems/{slug}`: a page for every kind of problem, at the address that is its `type`."""

from functools import cache
from html import escape
from typing import Annotated

from litestar import get
from litestar.params import PathParameter

from service.contract.problem_catalogue import KINDS, NOT_FOUND, ProblemKind
from service.contract.problems import ProblemError
from service.contract.replies import Reply

_HEADERS = {
    "Cache-Control": "public, max-age=3600",
    "Content-Security-Policy": "default-src 'none'",
    "X-Content-Type-Options": "nosniff",
}


@get("/problems", include_in_schema=False, opt={"produces": ("text/html",)}, sync_to_thread=False)
def list_problem_pages() -> Reply[str]:
    """Every kind of problem with a link to its page."""
    return _reply(_index())


@get(
    "/problems/{slug:str}",
    include_in_schema=False,
    opt={"produces": ("text/html",)},
    sync_to_thread=False,
)
def get_problem_page(slug: Annotated[str, PathParameter()]) -> Reply[str]:
    """What a kind of problem means and what to do about it."""
    if slug not in KINDS:
        raise ProblemError(NOT_FOUND, "There is no kind of problem of this name.")
    return _reply(_page(KINDS[slug]))


def _reply(page: bytes) -> Reply[str]:
    return Reply(page, media_type="text/html; charset=utf-8", headers=_HEADERS)


@cache
def _page(kind: ProblemKind) -> bytes:
    return _document(
        kind.title,
        f"<h1>{_text(kind.title)}</h1>"
        f"<p>HTTP status {kind.status}, <code>{_text(kind.type)}</code></p>"
        f"<p>{_text(kind.description)}</p>"
        '<p><a href="/problems">All kinds of problems</a></p>',
    )


@cache
def _index() -> bytes:
    rows = "".join(
        f'<li><a href="{_text(kind.type)}">{_text(kind.title)}</a> ({kind.status})</li>'
        for kind in KINDS.values()
    )
    return _document("Problems", f"<h1>Kinds of problems</h1><ul>{rows}</ul>")


def _document(title: str, body: str) -> bytes:
    return (
        '<!doctype html><html lang="en"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f"<title>{_text(title)}</title></head><body>{body}</body></html>"
    ).encode()


def _text(text: str) -> str:
    return escape(text, quote=True)
