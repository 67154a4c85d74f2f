"""The OpenAPI document: complete, sound, and the one that is committed."""

import json
from pathlib import Path
from typing import Any

import msgspec
import pytest
from asking import ask
from jsonschema import Draft202012Validator
from openapi_spec_validator import OpenAPIV31SpecValidator

from service.app import create_app, document, document_bytes
from service.contract import solution
from service.contract.docstrings import field_docstrings
from service.contract.examples import component_and_name, examples_folder
from service.contract.problem_catalogue import KINDS
from service.contract.schemas import component_schemas
from service.settings import Settings

DOCUMENT = document()
SCHEMAS: dict[str, Any] = DOCUMENT["components"]["schemas"]
OPERATIONS = {
    operation["operationId"]: operation
    for item in DOCUMENT["paths"].values()
    for operation in item.values()
}
COMMITTED = Path(__file__).resolve().parents[2] / "openapi" / "openapi.json"


def test_the_committed_document_is_the_one_the_code_makes() -> None:
    assert COMMITTED.read_bytes() == document_bytes(), (
        "openapi/openapi.json is not what the code says; after a wanted change write it anew: "
        "axlewright openapi > openapi/openapi.json"
    )


def test_the_document_is_valid_openapi_3_1() -> None:
    assert DOCUMENT["openapi"] == "3.1.0"
    assert list(OpenAPIV31SpecValidator(DOCUMENT).iter_errors()) == []


def test_the_service_serves_it_with_a_tag_that_spares_the_next_reading() -> None:
    app = create_app(Settings())
    first = ask(app, "GET", "/openapi.json", headers=[])
    assert (first.status, first.headers["content-type"]) == (200, "application/json")
    assert first.body == document_bytes()
    for sent in (first.headers["etag"], f'W/{first.headers["etag"]}, "x"', "*"):
        again = ask(app, "GET", "/openapi.json", headers=[(b"if-none-match", sent.encode())])
        assert (again.status, again.body) == (304, b"")
    other = ask(app, "GET", "/openapi.json", headers=[(b"if-none-match", b'"x"')])
    assert other.status == 200


def test_it_names_no_host() -> None:
    assert DOCUMENT["servers"] == [{"url": "/"}]


@pytest.mark.parametrize("name", OPERATIONS)
def test_an_operation_says_what_it_does(name: str) -> None:
    operation = OPERATIONS[name]
    assert name[0].islower()
    assert name.isalnum()
    assert operation["summary"]
    assert not operation["summary"].endswith(".")
    assert operation["description"]
    assert len(operation["tags"]) == 1
    assert operation["tags"][0] in {tag["name"] for tag in DOCUMENT["tags"]}


@pytest.mark.parametrize("name", OPERATIONS)
def test_an_operation_lists_the_errors_it_can_answer_with(name: str) -> None:
    operation = OPERATIONS[name]
    statuses = set(operation["responses"])
    assert {"400", "406", "500"} <= statuses
    if "requestBody" in operation:
        assert {"413", "415", "422"} <= statuses
    if any(one["in"] == "path" for one in operation.get("parameters", ())):
        assert "404" in statuses


@pytest.mark.parametrize("name", OPERATIONS)
def test_every_answer_documents_its_request_id(name: str) -> None:
    shared = DOCUMENT["components"]["responses"]
    for given in OPERATIONS[name]["responses"].values():
        answer = shared[given["$ref"].rpartition("/")[2]] if "$ref" in given else given
        assert answer["headers"]["Request-Id"] == {"$ref": "#/components/headers/Request-Id"}


@pytest.mark.parametrize("name", OPERATIONS)
def test_every_parameter_is_described_and_bounded(name: str) -> None:
    for parameter in OPERATIONS[name].get("parameters", ()):
        schema = parameter["schema"]
        schema = SCHEMAS[schema["$ref"].rpartition("/")[2]] if "$ref" in schema else schema
        assert parameter["description"], parameter["name"]
        if schema["type"] == "string":
            assert {"maxLength", "enum", "format"} & set(schema), parameter["name"]


@pytest.mark.parametrize("name", [name for name in OPERATIONS if "requestBody" in OPERATIONS[name]])
def test_every_request_body_has_an_example(name: str) -> None:
    media = OPERATIONS[name]["requestBody"]["content"]["application/json"]
    assert media["schema"].get("examples"), f"put one beside the others in {examples_folder().name}"


@pytest.mark.parametrize(
    "file", sorted(examples_folder().glob("*.json")), ids=lambda file: file.name
)
def test_an_example_satisfies_the_schema_it_is_an_example_of(file: Path) -> None:
    component, _ = component_and_name(file)
    assert component in SCHEMAS, f"{file.name} is an example of nothing in the document"
    reference = {"$ref": f"#/components/schemas/{component}", "components": {"schemas": SCHEMAS}}
    faults = list(Draft202012Validator(reference).iter_errors(json.loads(file.read_bytes())))
    assert faults == []


def test_every_kind_of_problem_is_listed_with_its_status() -> None:
    shared = DOCUMENT["components"]["responses"]
    for kind in KINDS.values():
        if f"Problem{kind.status}" in shared:
            assert f"`{kind.type}`" in shared[f"Problem{kind.status}"]["description"]


def test_the_reading_is_a_named_union_told_apart_by_its_kind() -> None:
    reading = SCHEMAS["Reading"]
    assert reading["discriminator"]["propertyName"] == "kind"
    mapping = reading["discriminator"]["mapping"]
    assert [one["$ref"] for one in reading["oneOf"]] == list(mapping.values())
    for kind, reference in mapping.items():
        member = SCHEMAS[reference.rpartition("/")[2]]
        assert member["properties"]["kind"] == {"type": "string", "const": kind}
        assert "kind" in member["required"]
    assert SCHEMAS["SolutionRequest"]["properties"]["readings"]["items"] == {
        "$ref": "#/components/schemas/Reading"
    }


def components_below(reference: str) -> set[str]:
    """Names of the components that one holds, itself included."""
    found: set[str] = set()
    waiting = [reference]
    while waiting:
        name = waiting.pop()
        if name not in found:
            found.add(name)
            text = json.dumps(SCHEMAS[name])
            waiting += [other for other in SCHEMAS if f'"#/components/schemas/{other}"' in text]
    return found


PASTED = {"SolvedRound", "SolvedAxle", "SolvedFinding", "SolvedEstimate", "SolvedStep"}
"""Parts of an answer that come back as they were answered: a field more must not break them."""


def test_requests_are_closed_to_fields_that_are_not_named() -> None:
    for operation in OPERATIONS.values():
        for media in operation.get("requestBody", {}).get("content", {}).values():
            for name in components_below(media["schema"]["$ref"].rpartition("/")[2]):
                if SCHEMAS[name].get("type") == "object" and name not in PASTED:
                    assert SCHEMAS[name]["additionalProperties"] is False, name


def test_an_answer_always_has_all_its_fields() -> None:
    estimate = SCHEMAS["Estimate"]
    assert estimate["required"] == list(estimate["properties"])
    assert "additionalProperties" not in estimate


def test_the_text_under_a_field_becomes_its_description() -> None:
    texts = field_docstrings(solution.SolutionRequest)
    described = SCHEMAS["SolutionRequest"]["properties"]
    assert texts
    for name, text in texts.items():
        assert described[name]["description"].startswith(text)


def test_texts_of_readings_are_components_with_their_pattern() -> None:
    for name in ("LengthText", "TapeText", "AngleText", "ToeText"):
        assert SCHEMAS[name]["pattern"].startswith("^")
        assert SCHEMAS[name]["maxLength"] == 40
    assert SCHEMAS["SightlineReading"]["properties"]["left"] == {
        "$ref": "#/components/schemas/LengthText"
    }


def test_no_description_breaks_off_or_keeps_the_indent_of_the_code() -> None:
    for name, schema in SCHEMAS.items():
        assert schema.get("description", "").endswith("."), name
        assert "\n   " not in schema["description"]


def walk(node: Any) -> Any:
    yield node
    for child in (
        node.values() if isinstance(node, dict) else node if isinstance(node, list) else ()
    ):
        yield from walk(child)


def test_no_pattern_is_written_for_python_alone() -> None:
    patterns = [
        node["pattern"]
        for node in walk(DOCUMENT)
        if isinstance(node, dict) and isinstance(node.get("pattern"), str)
    ]
    assert patterns
    assert not [pattern for pattern in patterns if r"\Z" in pattern or "(?P" in pattern]


def test_enum_values_keep_the_order_of_the_code() -> None:
    assert SCHEMAS["Verdict"]["enum"] == [verdict.value for verdict in solution.Verdict]


def test_every_link_leads_to_an_operation() -> None:
    links = [
        link
        for operation in OPERATIONS.values()
        for answer in operation["responses"].values()
        for link in answer.get("links", {}).values()
    ]
    assert links
    for link in links:
        assert link["operationId"] in OPERATIONS
        names = {one["name"] for one in OPERATIONS[link["operationId"]].get("parameters", ())}
        assert link.keys() & {"parameters", "x-request-body"}, "a link says what it hands on"
        assert set(link.get("parameters", {})) <= names


class Left(msgspec.Struct, tag=True):
    """One."""


class Right(msgspec.Struct, tag=True):
    """Two."""


class Outer(msgspec.Struct):
    """Holds a union that has no name."""

    either: Left | Right


def test_a_union_without_a_name_is_refused_when_the_document_is_made() -> None:
    with pytest.raises(LookupError, match="give the union of Left, Right a name"):
        component_schemas([Outer])


ANSWERED = {
    "target-set-list.json": ("/v1/target-sets", b""),
    "target-set-detail.json": ("/v1/target-sets/common-practice", b""),
    "tyre-size-list.json": ("/v1/tyre-sizes", b"size=11R22.5"),
}


@pytest.mark.parametrize("name", ANSWERED)
def test_an_example_of_reference_data_is_what_the_service_answers(name: str) -> None:
    path, query = ANSWERED[name]
    answer = ask(create_app(Settings()), "GET", path, headers=[], query=query)
    assert json.loads((examples_folder() / name).read_bytes()) == answer.json
