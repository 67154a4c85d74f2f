"""Words for broken rules of a schema: what is wrong, how to write it right, of which kind."""

import json
import re
from collections.abc import Callable, Iterator
from difflib import get_close_matches
from typing import Any, NamedTuple

from service.contract import problem_catalogue as kinds
from service.contract.problem_catalogue import ProblemKind
from service.contract.problems import MAX_ERRORS, FieldError, field_error, pointer_to
from service.contract.reading_texts import fault_of_text, text_components
from service.contract.schemas import Schema

Path = tuple[str | int, ...]

_OTHER_SIDE = {"left": "right", "right": "left", "front": "rear", "rear": "front"}
_TYPE_WORDS = {
    "object": "an object",
    "array": "an array",
    "string": "a string",
    "integer": "a whole number",
    "number": "a number",
    "boolean": "true or false",
    "null": "null",
}


class Violation(NamedTuple):
    """One broken rule as the validator reports it, with the part of the schema it stands in."""

    keyword: str
    limit: Any
    path: Path
    value: Any
    schema: Schema
    component: str
    components: dict[str, Schema]
    """What the schema may refer to, by name."""


class Broken(NamedTuple):
    """One broken rule in words, and its place in the body."""

    path: Path
    error: FieldError


def told(violation: Violation) -> list[Broken]:
    """A violation in words; several where one rule is broken by several fields."""
    tell = _TELLERS.get(violation.keyword, _told_generally)
    return list(tell(violation))


def _broken(kind: ProblemKind, path: Path, detail: str, hint: str) -> Broken:
    return Broken(path, field_error(kind, pointer_to(*path), detail, hint))


def _missing(v: Violation) -> Iterator[Broken]:
    name = v.limit.property
    path = (*v.path, name)
    other = _mirrored(name)
    if v.component == "Reading" and name == "kind":
        yield _unknown_kind(path, "The reading does not say its `kind`.", v.schema)
    elif other in v.value:
        yield _broken(
            kinds.INCOMPLETE_PAIR,
            path,
            f"`{other}` was given without `{name}`.",
            f"Give `{name}` as well, or leave the reading out.",
        )
    else:
        expected = _expected(v.schema.get("properties", {}).get(name, {}), v.components)
        yield _broken(
            kinds.CONTRACT_BROKEN, path, f"`{name}` is missing.", f"Give `{name}`{expected}."
        )


def _mirrored(name: str) -> str:
    """The field of the other side: `right` for `left`, `camber_left_turn` for its fellow."""
    parts = re.split(r"(left|right|front|rear)", name, maxsplit=1)
    return "".join(_OTHER_SIDE.get(part, part) for part in parts) if len(parts) > 1 else ""


def _expected(schema: Schema, components: dict[str, Schema]) -> str:
    if "$ref" in schema:
        name = schema["$ref"].rpartition("/")[2]
        schema = text_components().get(name) or components.get(name, schema)
    examples = schema.get("examples")
    if examples:
        return f", such as {shown(examples[0])}"
    if "const" in schema:
        return f": {shown(schema['const'])}"
    if "enum" in schema:
        return f", one of {_options(schema)}"
    words = _type_words(schema)
    return f", {words}" if words else ""


def _unknown(v: Violation) -> Iterator[Broken]:
    known = list(v.schema.get("properties", {}))
    for name in v.limit.unexpected[:MAX_ERRORS]:
        near = get_close_matches(name[:60], known, n=1)
        hint = f"Did you mean `{near[0]}`?" if near else f"Known here: {_listed(known)}."
        detail = f"There is no field {shown(name)}."
        yield _broken(kinds.UNKNOWN_FIELD, (*v.path, name), detail, hint)


def _not_listed(v: Violation) -> Iterator[Broken]:
    options = v.schema.get("enum", [])
    if v.component == "Reading":
        detail = f"There is no reading of kind {shown(v.value)}."
        yield _unknown_kind(v.path, detail, {"properties": {"kind": v.schema}})
        return
    yield _broken(kinds.CONTRACT_BROKEN, v.path, *none_of(v.value, options, shown))


def none_of(value: Any, options: list[Any], told: Callable[[Any], str]) -> tuple[str, str]:
    """Detail and hint for a value that is none of some options; `told` writes an option."""
    near = get_close_matches(value.lower()[:60], options, n=1) if _is_text(value) else []
    meant = f"Did you mean {told(near[0])}? " if near else ""
    detail = f"{shown(value)} is none of the values that there are."
    return detail, f"{meant}Use one of {', '.join(map(told, options))}."


def _unknown_kind(path: Path, detail: str, schema: Schema) -> Broken:
    known = schema["properties"]["kind"]["enum"]
    return _broken(kinds.UNKNOWN_READING_KIND, path, detail, f"Known kinds: {_listed(known)}.")


def _wrong_type(v: Violation) -> Iterator[Broken]:
    if "enum" in v.schema:
        yield from _not_listed(v)
        return
    wanted = _type_words(v.schema)
    hint = f"Write {wanted}."
    types = v.schema.get("type", [])
    if "string" in types and isinstance(v.value, int | float) and not isinstance(v.value, bool):
        hint = f'What a person reads is sent as text: write "{v.value}" with the quotes.'
    elif _is_text(v.value) and ("integer" in types or "number" in types):
        hint = f"Write {wanted}, without quotes."
    yield _broken(kinds.CONTRACT_BROKEN, v.path, f"{shown(v.value)} is not {wanted}.", hint)


def _out_of_bounds(words: str) -> Callable[[Violation], Iterator[Broken]]:
    def tell(v: Violation) -> Iterator[Broken]:
        low, high = v.schema.get("minimum"), v.schema.get("maximum")
        span = f"{low} to {high}" if None not in (low, high) else f"{words} {v.limit.limit}"
        yield _broken(
            kinds.CONTRACT_BROKEN,
            v.path,
            f"{shown(v.value)} is not {words} {v.limit.limit}.",
            f"Use a number of {span}.",
        )

    return tell


def _wrong_length(v: Violation) -> Iterator[Broken]:
    few = v.keyword.startswith("min")
    things = "entries" if isinstance(v.value, list) else "characters"
    bound = "at least" if few else "at most"
    kind = kinds.CONTRACT_BROKEN
    if v.value == "":
        kind = kinds.UNREADABLE_TEXT if "examples" in v.schema else kind
        yield _broken(
            kind, v.path, "The text is empty.", f"Write it{_expected(v.schema, v.components)}."
        )
        return
    if v.keyword == "maxItems" and v.path and v.path[-1] == "readings":
        kind = kinds.TOO_MANY_READINGS
    yield _broken(
        kind,
        v.path,
        f"There are {len(v.value)} {things}.",
        f"Give {bound} {v.limit.limit}.",
    )


def _wrong_pattern(v: Violation) -> Iterator[Broken]:
    fault = fault_of_text(v.component, v.value)
    if fault is None:
        hint = f"It has to match `{v.limit.pattern}`."
        yield _broken(kinds.CONTRACT_BROKEN, v.path, f"{shown(v.value)} is not allowed.", hint)
        return
    below_zero = v.component == "TapeText" and v.value.strip()[:1] in "-\u2212"
    kind = kinds.NEGATIVE_TAPE_READING if below_zero else kinds.UNREADABLE_TEXT
    hint = fault.hint[:1].upper() + fault.hint[1:]
    yield _broken(kind, v.path, f"{fault.reason}.", f"{hint}.")


FORMATS = {
    "date-time": "a date and time with its offset, such as 2025-03-01T14:30:00Z",
    "date": "a date, such as 2025-03-01",
    "uuid": "a UUID in its 36 characters",
}
"""What a text of a format is."""


def _wrong_format(v: Violation) -> Iterator[Broken]:
    wanted = FORMATS.get(v.schema["format"], f"of the format {v.schema['format']}")
    detail, hint = f"{shown(v.value)} is not {wanted}.", f"Write {wanted}."
    yield _broken(kinds.CONTRACT_BROKEN, v.path, detail, hint)


def _told_generally(v: Violation) -> Iterator[Broken]:
    yield _broken(
        kinds.CONTRACT_BROKEN,
        v.path,
        f"{shown(v.value)} breaks the rule `{v.keyword}` of the schema.",
        "The schema in /openapi.json says what is allowed here.",
    )


def _type_words(schema: Schema) -> str:
    types = schema.get("type", [])
    types = [types] if isinstance(types, str) else [one for one in types if one != "null"]
    return " or ".join(_TYPE_WORDS[one] for one in types)


def _is_text(value: Any) -> bool:
    return isinstance(value, str)


def _options(schema: Schema) -> str:
    return ", ".join(shown(option) for option in schema.get("enum", []))


def _listed(names: list[str]) -> str:
    return ", ".join(f"`{name}`" for name in names)


def shown(value: Any) -> str:
    """A value as JSON, cut to what fits a sentence; containers by their kind only."""
    if isinstance(value, dict):
        return "an object"
    if isinstance(value, list):
        return "an array"
    text = (
        json.dumps(value, ensure_ascii=False)
        if not isinstance(value, int) or isinstance(value, bool)
        else str(value)
    )
    if len(text) <= 60:
        return text
    return f'{text[:56]}..."' if _is_text(value) else f"{text[:57]}..."


_TELLERS: dict[str, Callable[[Violation], Iterator[Broken]]] = {
    "required": _missing,
    "additionalProperties": _unknown,
    "enum": _not_listed,
    "const": _not_listed,
    "type": _wrong_type,
    "minimum": _out_of_bounds("at least"),
    "maximum": _out_of_bounds("at most"),
    "exclusiveMinimum": _out_of_bounds("above"),
    "exclusiveMaximum": _out_of_bounds("below"),
    "minLength": _wrong_length,
    "maxLength": _wrong_length,
    "minItems": _wrong_length,
    "maxItems": _wrong_length,
    "pattern": _wrong_pattern,
    "format": _wrong_format,
}
