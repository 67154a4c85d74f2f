"""The examples of the document are true: the service takes each request and answers in the shape
of each answer."""

import asyncio
import json
from collections.abc import Iterator
from typing import Any

import pytest
from jsonschema import Draft202012Validator
from walked import DOCUMENT, OPERATIONS, Walk, value_of, walked

COMPONENTS = {"components": DOCUMENT["components"]}
WITHOUT_SCHEMA = {"text/csv", "text/html", "image/svg+xml", "image/png", "application/pdf"}
"""Files and pages for people, of which the document says no more than that they are text."""


@pytest.fixture(scope="module")
def walk() -> Walk:
    """Every operation asked once at least, with the requests that the document shows."""
    return asyncio.run(walked())


def examples_of(media: Any) -> Iterator[Any]:
    """Values shown by a body, which has them in its schema, an answer or a parameter."""
    yield from media.get("schema", {}).get("examples", ())
    for example in media.get("examples", {}).values():
        yield value_of(example)


def faults(media: Any) -> list[str]:
    """What its schema says against the examples of a body, an answer or a parameter."""
    judge = Draft202012Validator(media["schema"] | COMPONENTS)
    return [str(fault) for value in examples_of(media) for fault in judge.iter_errors(value)]


def good_answers(operation: Any) -> Iterator[tuple[int, str, Any]]:
    """Status, media type and content of the answers of success."""
    for status, answer in operation["responses"].items():
        for media_type, media in answer.get("content", {}).items() if status < "3" else ():
            yield int(status), media_type, media


@pytest.mark.parametrize("name", OPERATIONS)
def test_every_body_and_answer_in_json_has_examples_that_its_schema_admits(name: str) -> None:
    operation = OPERATIONS[name][2]
    bodies = operation.get("requestBody", {}).get("content", {})
    for media in bodies.values():
        assert list(examples_of(media))
        assert faults(media) == []
    for _, media_type, media in good_answers(operation):
        # The lines of an export have as many shapes as there are tables.
        without = media_type in WITHOUT_SCHEMA or name == "exportShop"
        assert list(examples_of(media)) or without, media_type
        assert faults(media) == []


@pytest.mark.parametrize("name", OPERATIONS)
def test_every_example_of_a_parameter_is_admitted_by_its_schema(name: str) -> None:
    for parameter in OPERATIONS[name][2].get("parameters", ()):
        assert faults(parameter) == [], parameter["name"]


def test_every_operation_was_asked_and_answered_as_it_should(walk: Walk) -> None:
    """The walk itself fails at the first answer that is not one of success."""
    assert {step.operation for step in walk.sent} == set(OPERATIONS)


@pytest.mark.parametrize(
    "name", [name for name, (_, _, one) in OPERATIONS.items() if "requestBody" in one]
)
def test_every_request_that_is_shown_was_sent(name: str, walk: Walk) -> None:
    media = OPERATIONS[name][2]["requestBody"]["content"]["application/json"]
    sent = [json.dumps(step.body) for step in walk.sent if step.operation == name]
    for value in examples_of(media):
        assert json.dumps(value) in sent


@pytest.mark.parametrize("name", OPERATIONS)
def test_every_answer_has_the_shape_of_its_example(name: str, walk: Walk) -> None:
    for status, media_type, media in good_answers(OPERATIONS[name][2]):
        if media_type == "application/json":
            answer = walk.answers[name, status]
            differing = [list(unlike(value, answer)) for value in examples_of(media)]
            assert [] in differing, differing


def unlike(shown: Any, answered: Any, at: str = "#") -> Iterator[str]:
    """Where two values differ in the fields they have or in what kind of value a field holds.

    Values may differ, null may stand for any, and lists may differ in length: those of an example
    and of an answer to other requests do.
    """
    if isinstance(shown, dict) and isinstance(answered, dict):
        for key in shown.keys() ^ answered.keys():
            yield f"{at}/{key}"
        for key in shown.keys() & answered.keys():
            yield from unlike(shown[key], answered[key], f"{at}/{key}")
    elif isinstance(shown, list) and isinstance(answered, list):
        for place, (one, other) in enumerate(zip(shown, answered, strict=False)):
            yield from unlike(one, other, f"{at}/{place}")
    elif None not in (shown, answered) and kind_of(shown) is not kind_of(answered):
        yield at


def kind_of(value: Any) -> type:
    """Kind of a JSON value; a whole number is a number."""
    return float if type(value) is int else type(value)


def test_a_field_that_is_not_answered_any_more_is_noticed() -> None:
    assert list(unlike({"a": [{"b": 1, "c": 2}]}, {"a": [{"b": 1.5}]})) == ["#/a/0/c"]
    assert list(unlike({"a": "1"}, {"a": 1})) == ["#/a"]
