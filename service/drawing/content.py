"""The data that a worksheet states, as bytes whose hash proves that a copy says the same."""

import json
from collections.abc import Mapping
from functools import cache
from hashlib import sha256
from typing import Any, TypeVar, get_args, get_origin, get_type_hints

Parts = TypeVar("Parts", bound=tuple[Any, ...])

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


def read_content(kind: type[Parts], content: bytes) -> Parts:
    """The named tuple that `content_bytes` wrote; members that `kind` does not have are left out.

    Raises KeyError, TypeError or ValueError for bytes that were not written from such a tuple.
    """
    return _made(kind, json.loads(content))  # type: ignore[no-any-return]


def _made(kind: Any, node: Any) -> Any:
    """A node of plain data as its declared type."""
    if hasattr(kind, "_fields"):
        hints = _hints(kind)
        return kind(**{name: _made(hints[name], node[name]) for name in hints if name in node})
    origin, inner = get_origin(kind), get_args(kind)
    if type(None) in inner:
        return None if node is None else _made(inner[0], node)
    if origin is tuple:
        kinds = inner[:1] * len(node) if inner[-1] is Ellipsis else inner
        return tuple(_made(one, part) for one, part in zip(kinds, node, strict=True))
    if origin is Mapping:
        keys = sorted((_made_key(inner[0], key), key) for key in node)
        return {made: _made(inner[1], node[key]) for made, key in keys}
    return node


def _made_key(kind: Any, key: str) -> Any:
    if get_origin(kind) is tuple:
        return tuple(int(part) for part in key.split("-"))
    return kind(key)


@cache
def _hints(kind: Any) -> dict[str, Any]:
    return get_type_hints(kind)
