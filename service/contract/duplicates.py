"""Duplicate keys in JSON, which msgspec lets pass and the last of which would win.

The check counts colons, since in a JSON text each member of an object has one. Let B be the
colons of the body, P its members and C the colons in its strings: B = P + C, unless a colon in
a string is escaped as \\u003a. Written out again, the decoded body has E = P' + C' colons, where
P' <= P and C' <= C because nothing is written that was not read, and P' < P exactly when a
member was lost to another of the same name. So E = B proves that none was, and needs no Python
loop over the body.
"""

import json
from collections.abc import Iterator
from enum import Enum
from functools import cache
from typing import Any

import msgspec
from msgspec import inspect as wire

from service.contract.problem_catalogue import DUPLICATE_KEY
from service.contract.problems import FieldError, ProblemError, field_error, pointer_to

_encode = msgspec.json.Encoder().encode
_decode = msgspec.json.Decoder().decode


def refuse_duplicates(body: bytes, value: object | None = None) -> None:
    """Raise a problem when an object in the body has two members of one name.

    `value` is the decoded body where its type is `countable`: proof by it costs half as much as
    decoding the body once more, and when it does not prove anything that is done.
    """
    if not (b"\\" in body and (b"\\u003a" in body or b"\\u003A" in body)):
        colons = body.count(b":")
        if value is not None and _encode(value).count(b":") == colons:
            return
        if _encode(_decode(body)).count(b":") == colons:
            return
    errors = list(_duplicates(json.loads(body, object_pairs_hook=_Members), ()))
    if errors:
        raise ProblemError(DUPLICATE_KEY, errors[0].detail, errors)


@cache
def countable(cls: Any) -> bool:
    """Whether written-out values of a type have no colon that was not read (E of above).

    True for structs that leave out defaults and hold text, numbers, flags, enums, lists and
    such structs only. A datetime, for one, may be written with a colon that it came without.
    """
    return _countable(wire.type_info(cls), set())


def _countable(info: wire.Type, seen: set[type]) -> bool:
    if isinstance(info, wire.Metadata):
        return _countable(info.type, seen)
    if isinstance(info, wire.UnionType):
        return all(_countable(part, seen) for part in info.types)
    if isinstance(info, wire.ListType):
        return _countable(info.item_type, seen)
    if isinstance(info, wire.EnumType):
        return issubclass(info.cls, Enum)
    if isinstance(info, wire.StructType):
        if info.cls in seen:
            return True
        seen.add(info.cls)
        return (
            info.cls.__struct_config__.omit_defaults
            and ":" not in f"{info.tag_field}{info.tag}"
            and all(_countable_field(field, seen) for field in info.fields)
        )
    return isinstance(
        info, wire.StrType | wire.IntType | wire.FloatType | wire.BoolType | wire.NoneType
    )


def _countable_field(field: wire.Field, seen: set[type]) -> bool:
    plain_default = field.default_factory in (msgspec.NODEFAULT, list, dict)
    return plain_default and ":" not in field.encode_name and _countable(field.type, seen)


class _Members(dict[str, Any]):
    """An object of a JSON text that remembers which names it has more than once."""

    def __init__(self, pairs: list[tuple[str, Any]]) -> None:
        super().__init__(pairs)
        self.repeated: list[str] = []
        if len(self) != len(pairs):
            names = [name for name, _ in pairs]
            self.repeated = [name for name in self if names.count(name) > 1]


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
