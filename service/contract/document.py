"""The OpenAPI 3.1 document, from the handlers and the wire structs alone.

Litestar collects operations, parameters and the types they name; msgspec describes the types
(`schemas`), and what holds for every operation is added by rule (`operations`). Litestar's own
description of a struct loses bounds, discriminators and docstrings, so that a plugin leaves a
mark for each struct and enum, which becomes a reference to msgspec's description.
"""

from collections.abc import Sequence
from enum import Enum
from typing import Any

import msgspec
from litestar import Litestar
from litestar.openapi import OpenAPIConfig
from litestar.openapi.spec import Schema as LitestarSchema
from litestar.plugins import OpenAPISchemaPlugin
from litestar.routes import HTTPRoute
from litestar.typing import FieldDefinition

import service
from service.contract.examples import example_components, examples
from service.contract.operations import completed, operation_id, tag_of
from service.contract.problems import Problem
from service.contract.reading_texts import text_components
from service.contract.schemas import REF, Schema, component_schemas
from service.contract.shared_parts import HEADERS, SECURITY_SCHEMES, TAGS, responses

_MARK = "component:"

_DESCRIPTION = """\
Readings that a technician takes of a truck or trailer in, axle geometry and verdicts out.

What a person reads is sent as text, as it was read (`"31 3/4"`, `"806.5 mm"`, `"0°15'"`); what
the service computes is a number. Right is positive, headings clockwise, toe-in positive. What no
reading reaches is `null`, never 0.

Every error is a problem (RFC 9457, `application/problem+json`) with a stable `type`, at whose
address a page describes it, and a pointer for each broken rule. A body that cannot be parsed is
a 400, one that breaks the contract a 422. Requests are closed: an unknown field is an error.
Answers are open: ignore fields and enum values that you do not know, more may come.

HEAD works wherever GET does, and OPTIONS everywhere. Send a UUID as `Request-Id` to find a
request again; otherwise one is made.
"""


def build_document(routes: Sequence[Any]) -> dict[str, Any]:
    """The document of the operations in `routes`."""
    collector = _TypeCollector()
    config = OpenAPIConfig(
        title="Axlewright",
        version=service.__version__,
        use_handler_docstrings=True,
        operation_id_creator=operation_id,
    )
    app = Litestar(routes, plugins=[collector], openapi_config=config, logging_config=None)
    raw = _with_references(app.openapi_schema.to_schema())
    schemas = component_schemas([Problem, *collector.types.values()]) | text_components()
    samples = examples(schemas)
    handlers = _handlers_by_operation(app)
    paths = {
        path: {
            method: completed(operation, path, handlers[operation["operationId"]], schemas, samples)
            for method, operation in item.items()
        }
        for path, item in sorted(raw["paths"].items())
    }
    used = {tag_of(path) for path in paths}
    return {
        "openapi": "3.1.0",
        "info": {
            "title": "Axlewright",
            "version": service.__version__,
            "summary": "Heavy-truck axle alignment arithmetic.",
            "description": _DESCRIPTION,
            "license": {"name": "Apache-2.0", "identifier": "Apache-2.0"},
        },
        "servers": [{"url": "/"}],
        "security": [],
        "tags": [{"name": name, "description": text} for name, text in TAGS if name in used],
        "paths": paths,
        "components": {
            "schemas": schemas,
            "responses": _only_used(responses(), paths),
            "examples": _shown(example_components(samples), paths),
            "headers": HEADERS,
            "securitySchemes": SECURITY_SCHEMES,
        },
    }


class _TypeCollector(OpenAPISchemaPlugin):
    """Claims every struct and enum, remembers it and leaves a mark instead of a schema."""

    def __init__(self) -> None:
        self.types: dict[str, Any] = {}

    def is_plugin_supported_field(self, field_definition: FieldDefinition) -> bool:
        """Whether a body, an answer or a parameter is of a type of the contract's own."""
        annotation = field_definition.annotation
        return isinstance(annotation, type) and issubclass(annotation, msgspec.Struct | Enum)

    def to_openapi_schema(
        self, field_definition: FieldDefinition, schema_creator: Any
    ) -> LitestarSchema:
        """A mark that names the component."""
        cls = field_definition.annotation
        if self.types.setdefault(cls.__name__, cls) is not cls:
            raise LookupError(f"two types of the contract are called {cls.__name__}")
        return LitestarSchema(title=_MARK + cls.__name__)


def _with_references(node: Any) -> Any:
    """The raw document with references in place of the collector's marks."""
    if isinstance(node, list):
        return [_with_references(part) for part in node]
    if not isinstance(node, dict):
        return node
    title = node.get("title", "")
    if isinstance(title, str) and title.startswith(_MARK):
        return {"$ref": REF + title.removeprefix(_MARK)}
    return {key: _with_references(part) for key, part in node.items()}


def _handlers_by_operation(app: Litestar) -> dict[str, Any]:
    return {
        operation_id(handler): handler
        for route in app.routes
        if isinstance(route, HTTPRoute)
        for handler in route.route_handlers
        if handler.resolve_include_in_schema()
    }


def _only_used(shared: dict[str, Schema], paths: dict[str, Any]) -> dict[str, Schema]:
    """Shared responses that an operation refers to: an unused component is noise."""
    used = {
        answer["$ref"].rpartition("/")[2]
        for item in paths.values()
        for operation in item.values()
        for answer in operation["responses"].values()
        if "$ref" in answer
    }
    return {name: part for name, part in shared.items() if name in used}


def _shown(samples: dict[str, Schema], paths: dict[str, Any]) -> dict[str, Schema]:
    """Samples that an answer refers to; those of requests stand where they are sent."""
    used = {
        example["$ref"].rpartition("/")[2]
        for item in paths.values()
        for operation in item.values()
        for answer in operation["responses"].values()
        for media in answer.get("content", {}).values()
        for example in media.get("examples", {}).values()
    }
    return {name: sample for name, sample in samples.items() if name in used}
