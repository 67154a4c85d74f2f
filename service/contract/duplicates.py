"""Duplicate keys in JSON, which msgspec lets pass and the last of which would win.

The check counts colons, since in a JSON text each member of an object has one. Let B be the
colons of the body, P its members and C the colons in its strings: B = P + C, unless a colon in
a string is escaped as \\u003a. Either of two counts proves that no member was lost to another of
the same name, without a loop over the body:

- of the decoded struct, the members E that it must have come from (see `members`): E <= P <= B,
  and E < P when a member was lost, so E = B is proof. It fails where a string holds a colon or
  a field was sent with its default value; then
- of the body decoded once more without a type and written out again, the colons E = P' + C'.
  Nothing is written that was not read, so P' <= P and C' <= C, and P' < P exactly when a member
  was lost. So E = B exactly when none was.
"""

import json
from collections.abc import Iterator
from typing import Any

import msgspec

from service.contract.problem_catalogue import DUPLICATE_KEY
from service.contract.problems import FieldError, ProblemError, field_error, pointer_to

_encode = msgspec.json.Encoder().encode
_decode = msgspec.json.Decoder().decode


def refuse_duplicates(body: bytes, members: int = -1) -> None:
    """Raise a problem when an object in the body has two members of one name.

    `members` are those that the decoded struct must have come from, where it is known.
    """
    if has_only(body, members):
        return
    if not _hides_colons(body) and _encode(_decode(body)).count(b":") == body.count(b":"):
        return
    errors = list(_duplicates(json.loads(body, object_pairs_hook=_Members), ()))
    if errors:
        raise ProblemError(DUPLICATE_KEY, errors[0].detail, errors)


def has_only(body: bytes, members: int) -> bool:
    """Whether so many members, which the body has at least, are seen to be all that it has."""
    return members == body.count(b":") and not _hides_colons(body)


def _hides_colons(body: bytes) -> bool:
    return b"\\" in body and (b"\\u003a" in body or b"\\u003A" in body)


class _Members(dict[str, Any]):
    """An object of a JSON text that remembers which names it has more than once."""

    def __init__(self, pairs: list[tuple[str, Any]]) -> None:
        super().__init__(pairs)
        self.repeated: list[str] = []
        if len(self) != len(pairs):
            seen: dict[str, int] = {}
            for name, _ in pairs:
                seen[name] = seen.get(name, 0) + 1
            self.repeated = [name for name, times in seen.items() if times > 1]


def _duplicates(node: Any, path: tuple[str | int, ...]) -> Iterator[FieldError]:
    if isinstance(node, _Members):
        for name in node.repeated:
            shown = json.dumps(name[:60], ensure_ascii=False)
            yield field_error(
                DUPLICATE_KEY,
                pointer_to(*path, name),
                f"The key {shown} stands more than once in one object.",
                "Keep one of them.",
            )
    if isinstance(node, dict | list):
        steps = node.items() if isinstance(node, dict) else enumerate(node)
        for step, child in steps:
            yield from _duplicates(child, (*path, step))
