"""JSON Schemas of the wire structs, as published and as refused bodies are checked against.

msgspec describes what msgspec validates; here its description gets what it leaves out: the
docstrings under fields, names for unions, the order of enum values, one form for "or null".
"""

import inspect
import sys
from collections.abc import Iterator, Sequence
from enum import Enum
from functools import cache
from types import UnionType
from typing import Any, get_args

import msgspec

from service.contract.docstrings import field_docstrings
from service.contract.reading_texts import named_text, text_components

Schema = dict[str, Any]

REF = "#/components/schemas/"

_INT32 = 2**31


def component_schemas(types: Sequence[Any]) -> dict[str, Schema]:
    """Named schemas of wire types and of everything they hold, by component name."""
    _, components = msgspec.json.schema_components(types, ref_template=REF + "{name}")
    classes = {cls.__name__: cls for cls in _named_classes(types)}
    named: dict[str, Schema] = {}
    for name, schema in components.items():
        named[name] = _named_component(classes[name], _with_parts_named(schema, classes, named))
    return dict(sorted(named.items()))


def _named_classes(types: Sequence[Any]) -> Iterator[type]:
    """Every Struct and Enum that the types reach, each once."""
    seen: set[Any] = set()
    waiting = list(types)
    while waiting:
        one = waiting.pop()
        if one in seen:
            continue
        seen.add(one)
        if isinstance(one, type) and issubclass(one, msgspec.Struct):
            yield one
            waiting += [field.type for field in msgspec.structs.fields(one)]
        elif isinstance(one, type) and issubclass(one, Enum):
            yield one
        else:
            waiting += [part for part in get_args(one) if isinstance(part, type) or get_args(part)]


def _named_component(cls: Any, schema: Schema) -> Schema:
    """One component: docstrings, requiredness and enum order as the class has them."""
    if getattr(cls, "__struct_config__", None) is None or cls.__struct_config__.tag is None:
        # One of several keeps its title: a page that shows the union offers them by it.
        schema.pop("title", None)
    schema["description"] = inspect.cleandoc(cls.__doc__ or "")
    if issubclass(cls, Enum):
        values = [member.value for member in cls]
        return {"type": "string", "description": schema["description"], "enum": values}
    properties = schema["properties"]
    for name, text in field_docstrings(cls).items():
        properties[name] = _described(properties[name], text)
    schema["properties"] = {name: _one_form(field) for name, field in properties.items()}
    if "additionalProperties" not in schema:
        # What is answered is always there: every field is written, defaults too.
        schema["required"] = list(properties)
        for field in schema["properties"].values():
            field.pop("default", None)
    return schema


def _described(field: Schema, text: str) -> Schema:
    """Put a field's own docstring in front of what its type says of itself."""
    inner = field["anyOf"][0] if "anyOf" in field else field
    general = inner.pop("description", "") if "$ref" not in inner else ""
    field["description"] = f"{text} {general}".strip()
    return field


def _one_form(field: Schema) -> Schema:
    """Write "or null" as a list of types where the other is a scalar, a tag as a const."""
    if "items" in field:
        field["items"] = _one_form(field["items"])
    if "pattern" in field:  # JSON Schema's $ is the very end, Python's also stands before a newline
        field["pattern"] = field["pattern"].replace(r"\Z", "$")
    if field.get("default", ...) in (None, "", [], {}):
        del field["default"]
    if len(field.get("enum", ())) == 1:
        return {"type": "string", "const": field["enum"][0]}
    if "anyOf" in field:
        others = [part for part in field["anyOf"] if part != {"type": "null"}]
        if len(others) == 1 and len(field["anyOf"]) == 2 and "$ref" not in others[0]:
            outer = {key: value for key, value in field.items() if key != "anyOf"}
            merged = {**_one_form(others[0]), **outer}
            merged["type"] = [merged["type"], "null"]
            return merged
    if field.get("pattern", "").endswith(r"\Z"):
        # Python's $ also stands before a last line break, ECMA-262 knows no \Z.
        field["pattern"] = field["pattern"].removesuffix(r"\Z") + "$"
    if field.get("type") == "number":
        field.setdefault("format", "double")
    if field.get("type") == "integer":
        field.setdefault("format", "int32" if field.get("maximum", _INT32) < _INT32 else "int64")
    return field


def _with_parts_named(schema: Any, classes: dict[str, type], named: dict[str, Schema]) -> Any:
    """Put references to components, named as their alias in code, for tagged unions and texts."""
    if isinstance(schema, list):
        return [_with_parts_named(part, classes, named) for part in schema]
    if not isinstance(schema, dict):
        return schema
    text = named_text(schema)
    if text is not None:
        named[text] = dict(text_components()[text])
        return {"$ref": REF + text}
    if "discriminator" in schema and "anyOf" in schema:
        members = [part["$ref"].removeprefix(REF) for part in schema["anyOf"]]
        name, text = _union_alias(frozenset[Any](classes[member] for member in members))
        named[name] = {
            "description": text,
            "oneOf": schema["anyOf"],
            "discriminator": schema["discriminator"],
        }
        return {"$ref": REF + name}
    return {key: _with_parts_named(part, classes, named) for key, part in schema.items()}


@cache
def _union_alias(members: frozenset[Any]) -> tuple[str, str]:
    """Name and description of a union of structs, from the module that its members stand in."""
    module = sys.modules[next(iter(members)).__module__]
    for name, value in vars(module).items():
        if isinstance(value, UnionType) and frozenset(get_args(value)) == members:
            tags = ", ".join(sorted(f"`{member.__struct_config__.tag}`" for member in members))
            field = next(iter(members)).__struct_config__.tag_field
            return name, f"One of several, told apart by `{field}`: {tags}."
    listed = ", ".join(sorted(member.__name__ for member in members))
    raise LookupError(f"give the union of {listed} a name in {module.__name__}")
