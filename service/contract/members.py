"""How many members of JSON objects a decoded struct is known to have come from.

A required field was read, and so was an optional one whose value is not the default object
itself. The count is therefore never more than the members of the body with distinct names, and
falls short of them only by fields that were sent with their default value.

Each struct's count is written out as Python source once, in the way that `dataclasses` writes
`__init__`: a loop over fields would take five times as long.
"""

from collections.abc import Callable, Iterator
from functools import cache
from typing import Any

import msgspec
from msgspec import inspect as wire

Counter = Callable[[Any], int]


class UncountableError(TypeError):
    """A type whose values do not tell what they were read from, such as a mapping."""


@cache
def member_counter(cls: Any, apart: frozenset[str] = frozenset()) -> Counter | None:
    """Counts the members a value of a struct was read from; None where that cannot be told.

    What fields that are named in `apart` hold is left out; they must be required.
    """
    try:
        info = wire.type_info(cls)
        counters = _counters(info)
        if apart and isinstance(info, wire.StructType):
            return _compiled(info, counters, apart)
        return counters[cls]
    except (UncountableError, KeyError):
        return None


def _counters(info: wire.Type) -> dict[type, Counter]:
    """A counter for every struct that a type holds; they call each other through this dict."""
    counters: dict[type, Counter] = {}
    waiting = [info]
    while waiting:
        for struct in _structs(waiting.pop()):
            if struct.cls not in counters:
                counters[struct.cls] = len
                counters[struct.cls] = _compiled(struct, counters)
                waiting += [field.type for field in struct.fields]
    return counters


def _structs(info: wire.Type) -> Iterator[wire.StructType]:
    """Structs that a field's type names, through lists and alternatives; not what they hold.

    Raises UncountableError for what has no members or may have any.
    """
    if isinstance(info, wire.StructType):
        if info.array_like:
            raise UncountableError(info)
        yield info
    elif isinstance(info, wire.Metadata):
        yield from _structs(info.type)
    elif isinstance(info, wire.ListType):
        yield from _structs(info.item_type)
    elif isinstance(info, wire.UnionType):
        for part in info.types:
            yield from _structs(part)
    elif isinstance(info, wire.AnyType | wire.RawType | wire.DictType | wire.CustomType):
        raise UncountableError(info)


def _compiled(
    struct: wire.StructType, counters: dict[type, Counter], apart: frozenset[str] = frozenset()
) -> Counter:
    names: dict[str, Any] = {"counters": counters}
    # A tag is not counted: a struct that is no member of a union may come without it.
    always = sum(field.required for field in struct.fields)
    lines = ["def count(struct):", f"    n = {always}"]
    for number, field in enumerate(struct.fields):
        if field.name in apart:
            continue
        lines += [f"    {line}" for line in _lines(field, f"d{number}", names)]
    exec("\n".join([*lines, "    return n"]), names)  # noqa: S102 - made of our own field names
    counter: Counter = names["count"]
    return counter


def _lines(field: wire.Field, default: str, names: dict[str, Any]) -> Iterator[str]:
    """Source lines that count one field: itself where it is optional, and what it holds."""
    held = list(_held(field.type, "v"))
    value = "v" if held else f"struct.{field.name}"
    if held:
        yield f"v = struct.{field.name}"
    if field.required:
        yield from held
    elif field.default_factory is list:
        yield f"if {value}:"
        yield from (f"    {line}" for line in ["n += 1", *held])
    elif field.default is not msgspec.NODEFAULT:
        if field.default is None or isinstance(field.default, bool):
            default = repr(field.default)  # a constant is nearer at hand than a global name
        else:
            names[default] = field.default
        yield f"if {value} is not {default}:"
        yield from (f"    {line}" for line in ["n += 1", *held])
    else:
        raise UncountableError(field)


def _held(info: wire.Type, name: str) -> Iterator[str]:
    """Source lines that count what a value holds; none if it is a scalar."""
    structs = list(_structs(info))
    while isinstance(info, wire.Metadata):
        info = info.type
    if not structs:
        return
    if isinstance(info, wire.ListType):
        inner = list(_held(info.item_type, f"{name}i"))
        yield f"for {name}i in {name}:"
        yield from (f"    {line}" for line in inner)
    elif isinstance(info, wire.UnionType) and any(
        isinstance(part, wire.NoneType) for part in info.types
    ):
        others = tuple(part for part in info.types if not isinstance(part, wire.NoneType))
        yield f"if {name} is not None:"
        inner = list(_held(others[0] if len(others) == 1 else wire.UnionType(others), name))
        yield from (f"    {line}" for line in inner)
    elif all(isinstance(part, wire.StructType) for part in getattr(info, "types", [info])):
        tag = " + 1" if isinstance(info, wire.UnionType) else ""
        yield f"n += counters[type({name})]({name}){tag}"
    else:
        raise UncountableError(info)
