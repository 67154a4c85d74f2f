"""Words for query, path and header parameters that cannot be read."""

from enum import Enum
from typing import Any

from litestar.exceptions import ValidationException
from litestar.params import ParameterKwarg
from litestar.typing import FieldDefinition

from service.contract.problem_catalogue import BAD_HEADER, BAD_QUERY, NOT_FOUND
from service.contract.problems import FieldError, field_error

_KINDS = {"query": (BAD_QUERY, "?{}"), "path": (NOT_FOUND, "{{{}}}"), "header": (BAD_HEADER, "{}:")}


def parameter_faults(error: ValidationException, handler: Any) -> list[FieldError]:
    """Every parameter that Litestar could not read, with what may stand there."""
    fields: dict[str, FieldDefinition] = handler.parsed_fn_signature.parameters
    entries: list[Any] = error.extra if isinstance(error.extra, list) else []
    faults = []
    for entry in entries:
        field = fields.get(str(entry.get("key", "")))
        if field is not None:
            source, name = _source_and_name(field)
            kind, form = _KINDS.get(source, _KINDS["query"])
            detail = f"{name} cannot be read: {_lowered(str(entry.get('message', '')))}."
            faults.append(field_error(kind, form.format(name), detail, _hint(field)))
    return faults


def _source_and_name(field: FieldDefinition) -> tuple[str, str]:
    given = field.kwarg_definition
    if isinstance(given, ParameterKwarg):
        return str(given.param_type.value), given.name or field.name
    return "query", field.name


def _lowered(message: str) -> str:
    return message[:1].lower() + message[1:]


def _hint(field: FieldDefinition) -> str:
    annotation = next(
        (part.annotation for part in field.inner_types if not part.is_none_type), field.annotation
    )
    if isinstance(annotation, type) and issubclass(annotation, Enum):
        return f"Use one of {', '.join(str(member.value) for member in annotation)}."
    given = field.kwarg_definition
    if isinstance(given, ParameterKwarg) and given.max_length:
        return f"Write {given.min_length or 0} to {given.max_length} characters."
    return "The parameter's schema in /openapi.json says what is allowed."
