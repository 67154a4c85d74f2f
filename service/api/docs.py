"""`/docs`: the contract as a page to read and to try, with nothing fetched from outside.

The page's script and style sheet are vendored (see `service/docs_page`), kept compressed, and
served for good under a name that changes with their content. The page itself holds no script and
no style.
"""

import gzip
from functools import cache
from hashlib import sha256
from html import escape
from pathlib import Path
from typing import Annotated, NamedTuple

from litestar import get
from litestar.params import HeaderParameter, PathParameter

from service.contract.problem_catalogue import NOT_FOUND
from service.contract.problems import ProblemError
from service.contract.replies import Reply

FOLDER = Path(__file__).resolve().parent.parent / "docs_page"
SCRIPT, STYLE = "web-components.min.js", "styles.min.css"
MEDIA_TYPES = {SCRIPT: "text/javascript", STYLE: "text/css"}

STYLES = (
    "sha256-40iiqMCd92gEkTDo77tABEiJ83Vil54BR3JPvnldhrA=",
    "sha256-MBVp6JYxbC/wICelYC6eULCRpgi9kGezXXSaq/TS2+I=",
    "sha256-UNbyEAocJpADNBotNJa8sLjL7v8WX3ZXTF7Sz+kls7Y=",
)
"""The style elements that the vendored script makes, by their content; a test in a browser tells
when another version of it makes others."""

POLICY = "; ".join(
    (
        "default-src 'none'",
        "script-src 'self'",
        "style-src 'self' " + " ".join(f"'{style}'" for style in STYLES),
        "connect-src 'self'",
        "img-src 'self' data:",
        "font-src 'self' data:",
        "base-uri 'none'",
        "form-action 'none'",
        "frame-ancestors 'none'",
    )
)
"""What the page may do: its own script and calls, nothing inline and nothing from elsewhere."""


class Part(NamedTuple):
    """A vendored file: as it is kept, compressed, and what it is served as."""

    compressed: bytes
    media_type: str


@get("/docs", include_in_schema=False, opt={"produces": ("text/html",)}, sync_to_thread=False)
def get_docs() -> Reply[str]:
    """The page."""
    headers = {
        "Cache-Control": "no-cache",
        "Content-Security-Policy": POLICY,
        "X-Content-Type-Options": "nosniff",
        "Referrer-Policy": "no-referrer",
    }
    return Reply(_page(), media_type="text/html; charset=utf-8", headers=headers)


@get(
    "/docs/{name:str}",
    include_in_schema=False,
    opt={"produces": ("text/javascript", "text/css")},
    sync_to_thread=False,
)
def get_docs_part(
    name: Annotated[str, PathParameter()],
    accept_encoding: Annotated[str | None, HeaderParameter(name="Accept-Encoding")] = None,
) -> Reply[str]:
    """A vendored file under its content's name; whoever has it need never ask again."""
    part = _parts().get(name)
    if part is None:
        raise ProblemError(NOT_FOUND, "The page has no such part.")
    headers = {
        "Cache-Control": "public, max-age=31536000, immutable",
        "X-Content-Type-Options": "nosniff",
        "Vary": "Accept-Encoding",
    }
    media_type = f"{part.media_type}; charset=utf-8"
    if _takes_gzip(accept_encoding):
        headers["Content-Encoding"] = "gzip"
        return Reply(part.compressed, media_type=media_type, headers=headers)
    return Reply(gzip.decompress(part.compressed), media_type=media_type, headers=headers)


def _takes_gzip(accept_encoding: str | None) -> bool:
    """Whether gzip is among the codings a client takes, and not only to be refused (`q=0`)."""
    for coding in (accept_encoding or "").lower().split(","):
        name, _, quality = coding.replace(" ", "").partition(";q=")
        if name in ("gzip", "*"):
            return quality.strip("0.") != "" if quality else True
    return False


@cache
def _parts() -> dict[str, Part]:
    """The files by the names they are served under."""
    return {
        _name(file): Part(_compressed(file), media_type) for file, media_type in MEDIA_TYPES.items()
    }


@cache
def _compressed(file: str) -> bytes:
    return (FOLDER / f"{file}.gz").read_bytes()


@cache
def _name(file: str) -> str:
    """`styles.min.css` is served as `styles.min.1a2b3c4d.css`."""
    stem, _, ending = file.rpartition(".")
    return f"{stem}.{sha256(_compressed(file)).hexdigest()[:16]}.{ending}"


@cache
def _page() -> bytes:
    return (
        '<!doctype html><html lang="en"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        "<title>Axlewright</title>"
        '<link rel="icon" href="data:,">'
        f'<link rel="stylesheet" href="/docs/{escape(_name(STYLE))}">'
        f'<script src="/docs/{escape(_name(SCRIPT))}" defer></script>'
        "</head><body>"
        '<elements-api apiDescriptionUrl="/docs/openapi.json" router="hash" layout="responsive" '
        'tryItCredentialsPolicy="same-origin"></elements-api>'
        "</body></html>"
    ).encode()
