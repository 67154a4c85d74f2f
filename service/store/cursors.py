"""Opaque places in a list, bound to the shop, the list and its filter.

A cursor holds the keys of the last row shown, so that rows which arrive meanwhile are neither
skipped nor shown twice. Its checksum is keyed with the shop and covers the filter: a cursor used
with another filter, or changed by hand, is refused instead of answering something odd.
"""

import base64
import binascii
from hashlib import blake2b
from typing import Any
from uuid import UUID

import msgspec

from service.store.errors import BadCursor

_SUM = 8


def write_cursor(shop: UUID, filter: object, place: tuple[Any, ...]) -> str:
    """The cursor of the rows after `place`, the keys of the last row shown."""
    body = msgspec.json.encode(place)
    return base64.urlsafe_b64encode(_checksum(shop, filter, body) + body).decode().rstrip("=")


def read_cursor(shop: UUID, filter: object, text: str, kind: type[tuple[Any, ...]]) -> Any:
    """The keys in a cursor, decoded as `kind`; BadCursor unless it was made for this list."""
    try:
        raw = base64.b64decode(text + "=" * (-len(text) % 4), altchars=b"-_", validate=True)
    except (binascii.Error, ValueError):
        raise BadCursor from None
    if raw[:_SUM] != _checksum(shop, filter, raw[_SUM:]):
        raise BadCursor
    try:
        return msgspec.json.decode(raw[_SUM:], type=kind)
    except msgspec.MsgspecError:
        raise BadCursor from None


def _checksum(shop: UUID, filter: object, body: bytes) -> bytes:
    return blake2b(
        msgspec.json.encode(filter) + b"\n" + body, digest_size=_SUM, key=shop.bytes
    ).digest()
