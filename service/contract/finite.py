"""A guard on the way out: JSON has no NaN and no infinity, and msgspec would write null.

The guard of an answer's type is written out as Python source once, in the way that `dataclasses`
writes `__init__`: every float of the answer, added up. With NaN or an infinity among them the sum
is not finite; should finite numbers make it overflow, they are looked at one by one. That costs a
third less than to add up each number times zero, and a check in `__post_init__` more than eight
times as much.
"""

import math
from collections.abc import Callable, Iterable, Iterator, Sequence
from functools import cache
from itertools import groupby
from math import isfinite
from typing import Any

import msgspec
from msgspec import inspect as wire

ADD = "z += "


class NotFiniteError(ArithmeticError):
    """An answer holds NaN or an infinity: a fault of the service that must not leave it."""


def require_finite(answer: object) -> None:
    """Raise `NotFiniteError` when any number in an answer's struct is not finite."""
    cls: Any = type(answer)
    if not isfinite(_sum(cls)(answer)) and _walked(answer) != 0.0:
        raise NotFiniteError(f"{cls.__name__} holds a number that is not finite")


def require_finite_numbers(numbers: Sequence[float]) -> None:
    """The same of numbers that are to be written by themselves."""
    if not isfinite(sum(numbers)) and not all(map(isfinite, numbers)):
        raise NotFiniteError("an answer holds a number that is not finite")


@cache
def _sum(cls: type) -> Callable[[Any], float]:
    if not issubclass(cls, msgspec.Struct):
        return _walked
    lines = ["def guard(v0):", "    z = 0.0"]
    lines += [f"    {line}" for line in _joined(_checks(wire.type_info(cls), "v0", 0, ()))]
    names: dict[str, Any] = {"walked": _walked}
    exec("\n".join([*lines, "    return z"]), names)  # noqa: S102 - made of our own field names
    guard: Callable[[Any], float] = names["guard"]
    return guard


def _joined(lines: Iterable[str]) -> Iterator[str]:
    """The lines with neighbours that add to z made one, which spares z a store and a load."""
    for indent, group in groupby(
        lines, lambda line: line[: line.find(ADD)] if ADD in line else None
    ):
        if indent is None:
            yield from group
        else:
            yield indent + ADD + " + ".join([line.strip().removeprefix(ADD) for line in group])


def _checks(info: wire.Type, name: str, depth: int, above: tuple[type, ...]) -> Iterator[str]:
    """Source lines that add the floats of the value called `name` to z; none if it has none."""
    if isinstance(info, wire.Metadata):
        yield from _checks(info.type, name, depth, above)
    elif isinstance(info, wire.FloatType):
        yield f"{ADD}{name}"
    elif isinstance(info, wire.StructType) and info.cls not in above:
        for field in info.fields:
            yield from _assigned(f"{name}.{field.name}", field.type, depth, (*above, info.cls))
    elif isinstance(info, wire.ListType):
        inner = list(_checks(info.item_type, f"v{depth + 1}", depth + 1, above))
        if inner:
            yield f"for v{depth + 1} in {name}:"
            yield from (f"    {line}" for line in inner)
    elif isinstance(info, wire.UnionType):
        parts = [part for part in info.types if not isinstance(part, wire.NoneType)]
        inner = list(_checks(parts[0], name, depth, above)) if len(parts) == 1 else []
        if len(parts) > 1 and _may_hold_floats(info):
            inner = [f"{ADD}walked({name})"]
        if inner:
            yield f"if {name} is not None:"
            yield from (f"    {line}" for line in inner)
    elif _may_hold_floats(info):
        yield f"{ADD}walked({name})"


def _assigned(source: str, info: wire.Type, depth: int, above: tuple[type, ...]) -> Iterator[str]:
    """The checks of a field, on a local name where it is looked at more than once."""
    plain = list(_checks(info, source, depth, above))
    if len(plain) < 2 or plain[0].startswith("for "):
        yield from plain
        return
    yield f"v{depth + 1} = {source}"
    yield from _checks(info, f"v{depth + 1}", depth + 1, above)


def _may_hold_floats(info: wire.Type) -> bool:
    without = wire.StrType | wire.IntType | wire.BoolType | wire.NoneType | wire.EnumType
    if isinstance(info, wire.UnionType):
        return any(map(_may_hold_floats, info.types))
    if isinstance(info, wire.Metadata):
        return _may_hold_floats(info.type)
    return not isinstance(info, without | wire.DateTimeType | wire.LiteralType | wire.UUIDType)


def _walked(value: Any) -> float:
    """The sum of every float times zero, 0.0 when all are finite, since inf * 0 is NaN.

    It serves values whose type says little, such as mappings, unions and recursive structs, and
    sums that overflow.
    """
    if isinstance(value, float):
        return value * 0.0
    if isinstance(value, msgspec.Struct):
        return math.fsum(_walked(getattr(value, name)) for name in value.__struct_fields__)
    if isinstance(value, dict):
        return math.fsum(map(_walked, value.values()))
    if isinstance(value, list | tuple):
        return math.fsum(map(_walked, value))
    return 0.0
