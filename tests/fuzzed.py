"""Bodies that are nearly right: a valid one with pieces or values of it replaced."""

import copy
import json
from typing import Any

from hypothesis import strategies as st

PIECES = [
    b"", b'"', b"{", b"}", b"[", b"]", b":", b",", b"\\", b"\\u", b"\\ud800", b"NaN", b"1e999",
    b"-", b"null", b"true", b"3.0", b'"kind":', b'"axle":1,"axle":2,', b"[" * 1500, b'{"a":' * 1500,
    b"\xef\xbb\xbf", b"\xff", b"\x00", b"9" * 400,
]  # fmt: skip

json_values = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False, allow_infinity=False)
    | st.text(max_size=8),
    lambda inner: (
        st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=6), inner, max_size=3)
    ),
    max_leaves=6,
)  # fmt: skip

AT_AN_EDGE: list[Any] = [
    "\x00", "\ud800", "\u2028", "x" * 5000, " ", "0001-01-01T00:00:00+14:00",
    "9999-12-31T23:59:59-14:00", "2026-03-14T08:30:60Z", "2026-02-29", "1e400", "0.1e-400", "-0",
    "9" * 40, 2**31, 2**53, 2**63, 2**64, -(2**63), 1e308, 5e-324, -0.0, [], {},
    "https://[::1]/", "https://\u00e9.example/", "http://a:99999/",
]  # fmt: skip
"""Where databases, clocks and numbers end."""


def json_bytes(value: Any) -> bytes:
    """The value as a body, with lone surrogates let through."""
    return json.dumps(value).encode("utf-8", "surrogatepass")


def spliced(sample: bytes) -> st.SearchStrategy[bytes]:
    """The sample with pieces of it taken out, repeated, or replaced by bytes of any kind."""

    def body_of(draw: st.DrawFn) -> bytes:
        body = sample
        for _ in range(draw(st.integers(1, 4))):
            begin = draw(st.integers(0, len(body)))
            end = draw(st.integers(begin, min(len(body), begin + 40)))
            piece = draw(st.binary(max_size=6) | st.sampled_from(PIECES))
            body = body[:begin] + piece + body[end:]
        return body

    return st.composite(body_of)()


def mutated(sample: Any, values: st.SearchStrategy[Any] = json_values) -> st.SearchStrategy[bytes]:
    """The sample with one to three of its values replaced by any others."""
    known = places(sample)[1:]

    def body_of(draw: st.DrawFn) -> bytes:
        body = copy.deepcopy(sample)
        for _ in range(draw(st.integers(1, 3))):
            *path, last = draw(st.sampled_from(known))
            node = body
            for step in path:
                node = node[step] if has(node, step) else {}
            if isinstance(node, dict) or has(node, last):
                # A copy: what is drawn may be one of several constants, and be changed in turn.
                node[last] = copy.deepcopy(draw(values))
        return json_bytes(body)

    return st.composite(body_of)()


def places(node: Any, path: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    """Where the values of a body are, the body itself first."""
    steps: Any = node.items() if isinstance(node, dict) else ()
    steps = enumerate(node) if isinstance(node, list) else steps
    return [path] + [place for step, child in steps for place in places(child, (*path, step))]


def has(node: Any, step: Any) -> bool:
    """Whether a list or an object has this place."""
    if isinstance(node, list):
        return isinstance(step, int) and step < len(node)
    return isinstance(node, dict) and step in node
