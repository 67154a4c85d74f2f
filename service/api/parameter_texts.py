"""Words for query, path and header parameters that cannot be read.

They are made from what was sent and what the parameter takes, as those for bodies are; what the
framework says of them, in the words of its libraries, is not passed on.
"""

import re
from datetime import datetime
from enum import Enum
from typing import Any, NamedTuple
from urllib.parse import parse_qsl
from uuid import UUID

from litestar.exceptions import ValidationException
from litestar.params import ParameterKwarg
from litestar.typing import FieldDefinition

from service.contract.asgi import Scope, headers_of
from service.contract.problem_catalogue import BAD_HEADER, BAD_QUERY, NOT_FOUND
from service.contract.problems import FieldError, field_error
from service.contract.rule_texts import FORMATS, none_of, shown

_KINDS = {"query": (BAD_QUERY, "?{}"), "path": (NOT_FOUND, "{{{}}}"), "header": (BAD_HEADER, "{}:")}
_WHOLE = re.compile(r"[+-]?[0-9]+")
_SIMPLE = {
    bool: "true or false",
    UUID: FORMATS["uuid"],
    datetime: FORMATS["date-time"],
}


class _Words(NamedTuple):
    detail: str
    hint: str


def parameter_faults(error: ValidationException, handler: Any, scope: Scope) -> list[FieldError]:
    """Every parameter that Litestar could not read: what was sent, and what may stand there."""
    fields: dict[str, FieldDefinition] = handler.parsed_fn_signature.parameters
    entries: list[Any] = error.extra if isinstance(error.extra, list) else []
    faults = []
    for entry in entries:
        field = fields.get(str(entry.get("key", "")))
        if field is not None:
            source, name = _source_and_name(field)
            kind, form = _KINDS.get(source, _KINDS["query"])
            words = _words(_sent(scope, source, name), field)
            faults.append(field_error(kind, form.format(name), *words))
    return faults


def _source_and_name(field: FieldDefinition) -> tuple[str, str]:
    given = field.kwarg_definition
    if isinstance(given, ParameterKwarg):
        return str(given.param_type.value), given.name or field.name
    return "query", field.name


def _sent(scope: Scope, source: str, name: str) -> str:
    """The text of the parameter as it was sent."""
    if source == "header":
        return headers_of(scope).get(name.lower().encode(), b"").decode("latin-1")
    if source == "path":
        return str(scope["path_params"].get(name, ""))
    query = parse_qsl(scope["query_string"].decode("latin-1"), keep_blank_values=True)
    return next((value for one, value in query if one == name), "")


def _words(text: str, field: FieldDefinition) -> _Words:
    annotation = next(
        (part.annotation for part in field.inner_types if not part.is_none_type), field.annotation
    )
    given = field.kwarg_definition
    if isinstance(annotation, type) and issubclass(annotation, Enum):
        return _Words(*none_of(text, [str(member.value) for member in annotation], str))
    if annotation in _SIMPLE:
        wanted = _SIMPLE[annotation]
        return _Words(f"{shown(text)} is not {wanted}.", f"Write {wanted}.")
    if isinstance(given, ParameterKwarg) and annotation is int:
        return _no_number(text, given)
    if isinstance(given, ParameterKwarg) and annotation is str:
        return _no_text(text, given)
    hint = "The parameter's schema in /openapi.json says what is allowed."
    return _Words(f"{shown(text)} is not allowed.", hint)


def _no_number(text: str, given: ParameterKwarg) -> _Words:
    low, high = given.ge, given.le
    span = "" if low is None or high is None else f" of {low} to {high}"
    hint = f"Write a whole number{span}."
    if not _WHOLE.fullmatch(text):
        return _Words(f"{shown(text)} is not a whole number.", hint)
    # As a float: Python makes no integer of thousands of digits, and the bounds are all that is
    # compared with.
    bound = f"at least {low}" if low is not None and float(text) < low else f"at most {high}"
    cut = text if len(text) <= 40 else f"{text[:37]}..."
    return _Words(f"{cut} is not {bound}.", hint)


def _no_text(text: str, given: ParameterKwarg) -> _Words:
    least, most = given.min_length or 0, given.max_length
    example = f", such as {given.examples[0].value}" if given.examples else ""
    if len(text) < least:
        wanted = f"{least} to {most} characters" if most else f"{least} or more characters"
        told = f"{shown(text)} has {len(text)} characters." if text else "The text is empty."
        return _Words(told, f"Write {wanted}{example}.")
    if most is not None and len(text) > most:
        hint = f"Write at most {most} characters{example}."
        return _Words(f"{shown(text)} has {len(text)} characters.", hint)
    meant = f"{given.description} " if given.description else ""
    hint = f"{meant}It has to match `{given.pattern}`{example}."
    return _Words(f"{shown(text)} is not allowed.", hint)
