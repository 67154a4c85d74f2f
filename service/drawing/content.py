"""The data that a worksheet states, as bytes whose hash proves that a copy says the same."""

import json
from collections.abc import Mapping
from hashlib import sha256
from typing import Any

_FOR_HTML = str.maketrans({"<": "\\u003c", ">": "\\u003e", "&": "\\u0026"})


def content_bytes(data: Any) -> bytes:
    """Canonical JSON of nested named tuples, mappings and sequences.

    Keys sorted, no spaces, ASCII only, `<`, `>` and `&` escaped: the same bytes can stand in an
    HTML element and in a PDF attachment. A key that is a pair is joined by a hyphen. Raises
    ValueError for a number that is not finite.
    """
    text = json.dumps(_plain(data), sort_keys=True, separators=(",", ":"), allow_nan=False)
    return text.translate(_FOR_HTML).encode("ascii")


def digest(content: bytes) -> str:
    """SHA-256 in hexadecimal."""
    return sha256(content).hexdigest()


def _plain(node: Any) -> Any:
    if isinstance(node, tuple) and hasattr(node, "_fields"):
        return {name: _plain(value) for name, value in zip(node._fields, node, strict=True)}
    if isinstance(node, Mapping):
        return {_key(key): _plain(value) for key, value in node.items()}
    if isinstance(node, list | tuple):
        return [_plain(value) for value in node]
    return node


def _key(key: Any) -> str:
    return "-".join(str(part) for part in key) if isinstance(key, tuple) else str(key)
