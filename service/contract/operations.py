"""What Litestar leaves out of an operation of the OpenAPI document, added by rule."""

from collections.abc import Container
from typing import Any

from service.contract.links import LINKS
from service.contract.problem_catalogue import ProblemKind
from service.contract.reading_texts import named_text
from service.contract.schemas import REF, Schema
from service.contract.shared_parts import response_name

LIMIT_STATUSES = {429, 431, 503}
"""What any operation of a version answers to more than the service takes."""
RATE_LIMIT_HEADERS: Schema = {
    name: {"$ref": f"#/components/headers/{name}"} for name in ("RateLimit", "RateLimit-Policy")
}

_ORDER = ("operationId", "summary", "description", "tags", "deprecated", "security")


def operation_id(handler: Any, *_method_and_path: Any) -> str:
    """`list_target_sets` is `listTargetSets`: the name of the method in generated clients."""
    first, *rest = handler.handler_name.split("_")
    return str(first) + "".join(word.capitalize() for word in rest)


def tag_of(path: str) -> str:
    """`/v1/target-sets/{id}` is tagged "Target sets", what lies outside a version "Operation"."""
    version, _, rest = path.strip("/").partition("/")
    if version != "v1":
        return "Operation"
    return rest.partition("/")[0].replace("-", " ").capitalize()


def completed(
    operation: Schema,
    path: str,
    handler: Any,
    schemas: dict[str, Schema],
    samples: dict[str, dict[str, Schema]],
) -> Schema:
    """An operation with tag, examples, its headers, its links and every answer it can give."""
    operation["tags"] = [tag_of(path)]
    if not operation.get("deprecated"):
        operation.pop("deprecated", None)
    needed = handler.opt.get("requires", ())
    parameters = [_parameter(one, needed) for one in operation.pop("parameters", [])]
    good = str(handler.status_code)
    answers = {good: _good_answer(operation["responses"][good], handler, schemas, samples)}
    limited = path.startswith("/v1/")
    if limited:
        answers[good]["headers"] |= RATE_LIMIT_HEADERS
    for status in handler.opt.get("also", ()):
        answers[str(status)] = {**answers[good], "description": "It is new."}
    links = LINKS.get((operation["operationId"], good))
    if links:
        answers[good]["links"] = links
    for status in _error_statuses(operation, parameters, handler) | (
        LIMIT_STATUSES if limited else set()
    ):
        answers[str(status)] = {"$ref": f"#/components/responses/{response_name(status)}"}
    finished = {key: operation[key] for key in _ORDER if key in operation}
    if parameters:
        finished["parameters"] = parameters
    if "requestBody" in operation:
        finished["requestBody"] = _with_samples_to_send(operation["requestBody"], samples)
    for media_type, (sent, answered) in handler.opt.get("lines", {}).items():
        # A stream of lines is described by what one line holds.
        asked, told = (
            {"content": {media_type: {"schema": {"$ref": REF + held}}}} for held in (sent, answered)
        )
        finished["requestBody"]["content"] |= _with_samples_to_send(asked, samples)["content"]
        answers[good]["content"] |= _with_examples(told, samples)["content"]
    return {**finished, "responses": dict(sorted(answers.items()))}


def _error_statuses(operation: Schema, parameters: list[Schema], handler: Any) -> set[int]:
    """Statuses of the errors an operation can answer with; `opt={"problems": ...}` adds kinds."""
    places = {one["in"] for one in parameters}
    headers = {one["name"] for one in parameters if one["in"] == "header"}
    kinds: tuple[ProblemKind, ...] = handler.opt.get("problems", ())
    statuses = {400, 406, 500} | {kind.status for kind in kinds}
    if "requestBody" in operation:
        statuses |= {400, 408, 413, 415, 422}
    if "path" in places:
        statuses |= {404}
    if "If-Match" in headers:
        statuses |= {412, 428}
    if "Idempotency-Key" in headers:
        statuses |= {409, 422}
    return statuses


def _good_answer(
    answer: Schema, handler: Any, schemas: dict[str, Schema], samples: dict[str, dict[str, Schema]]
) -> Schema:
    """The answer of success: described by what it holds, with its headers referred to."""
    content = answer.get("content", {})
    component = _component_in(content)
    description = handler.response_description
    if not description and component in schemas:
        description = schemas[component]["description"].partition("\n")[0]
    headers = {"Request-Id": {"$ref": "#/components/headers/Request-Id"}}
    for name in handler.opt.get("headers", ()):
        headers[name] = {"$ref": f"#/components/headers/{name}"}
    finished = {"description": description or answer["description"], "headers": headers}
    if content:
        finished["content"] = _with_examples(answer, samples)["content"]
        for media_type in handler.opt.get("produces", ()):
            if media_type.startswith(("text/", "image/", "application/pdf")):
                # What is for people: text and no more, or a file.
                finished["content"][media_type] = {"schema": _for_people(media_type)}
    return finished


def _for_people(media_type: str) -> Schema:
    """A page, a table or a drawing in letters is a string; what else people look at is a file."""
    in_letters = media_type.startswith("text/") or media_type.endswith("+xml")
    return {"type": "string"} if in_letters else {"type": "string", "format": "binary"}


def _component_in(content: Schema) -> str:
    for media in content.values():
        reference = media.get("schema", {}).get("$ref", "")
        return str(reference.removeprefix(REF))
    return ""


def _with_samples_to_send(holder: Schema, samples: dict[str, dict[str, Schema]]) -> Schema:
    """A request body with the examples of the component that it holds.

    They stand in the schema, since openapi-generator warns for Java of those beside a schema.
    """
    content: Schema = {}
    for media_type, media in holder["content"].items():
        named = samples.get(_component_in({media_type: media}), {})
        values = [example["value"] for example in named.values()]
        content[media_type] = {"schema": media["schema"] | ({"examples": values} if values else {})}
    return {**holder, "content": content}


def _with_examples(holder: Schema, samples: dict[str, dict[str, Schema]]) -> Schema:
    """An answer with the examples of the component that it holds."""
    content: Schema = {}
    for media_type, media in holder["content"].items():
        component = _component_in({media_type: media})
        shown = {
            name: {"$ref": f"#/components/examples/{component}.{name}"}
            for name in samples.get(component, ())
        }
        content[media_type] = {"schema": media.get("schema", {})}
        if shown:
            content[media_type]["examples"] = shown
    return {**holder, "content": content}


def _parameter(parameter: Schema, needed: Container[str]) -> Schema:
    """A parameter without Litestar's noise; an optional one is absent rather than null.

    `needed` names headers that Litestar takes for optional, so that the handler can refuse their
    absence in its own words.
    """
    schema = {key: value for key, value in parameter["schema"].items() if key != "oneOf"}
    alternatives = [
        part for part in parameter["schema"].get("oneOf", ()) if part != {"type": "null"}
    ]
    for part in alternatives[:1]:
        schema = {**part, **schema}
    description = schema.pop("description", None) or parameter.get("description")
    schema.pop("examples", None)
    if schema.get("type") == "integer":
        schema["format"] = "int32" if schema.get("maximum", 2**31) < 2**31 else "int64"
    text = named_text(schema)
    if text is not None:
        schema = {"$ref": REF + text}
    finished = {
        "name": parameter["name"],
        "in": parameter["in"],
        "description": description,
        "required": parameter.get("required", False) or parameter["name"] in needed,
        "schema": {key: value for key, value in schema.items() if value is not None},
    }
    if parameter.get("examples"):
        values = [example["value"] for example in parameter["examples"].values()]
        finished["examples"] = {
            f"example-{number}": {"value": value} for number, value in enumerate(values, 1)
        }
    return finished
