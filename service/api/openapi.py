"""`/openapi.json`: the contract as the service itself states it, and how the page reads it."""

from collections.abc import Callable
from typing import Annotated, Any

from litestar import get
from litestar.datastructures import State
from litestar.params import HeaderParameter

from service.contract.replies import Reply


@get("/openapi.json", include_in_schema=False, sync_to_thread=False)
def get_openapi(
    state: State,
    if_none_match: Annotated[str | None, HeaderParameter(name="If-None-Match")] = None,
) -> Reply[dict[str, Any]]:
    """The OpenAPI 3.1 document, made on the first request and kept."""
    return _document(state["document"], if_none_match)


@get("/docs/openapi.json", include_in_schema=False, sync_to_thread=False)
def get_page_document(
    state: State,
    if_none_match: Annotated[str | None, HeaderParameter(name="If-None-Match")] = None,
) -> Reply[dict[str, Any]]:
    """The same as the page at `/docs` reads it."""
    return _document(state["page_document"], if_none_match)


def _document(
    published: Callable[[], tuple[bytes, str]], if_none_match: str | None
) -> Reply[dict[str, Any]]:
    document, tag = published()
    headers = {"ETag": tag, "Cache-Control": "no-cache"}
    if if_none_match is not None and _names(if_none_match, tag):
        return Reply(b"", status_code=304, headers=headers)
    return Reply(document, headers=headers)


def _names(if_none_match: str, tag: str) -> bool:
    """Whether the header names the tag, compared weakly (RFC 9110 section 13.1.2)."""
    tags = {one.strip().removeprefix("W/") for one in if_none_match.split(",")}
    return tag in tags or "*" in tags
