"""Strict decoding against the published schema, judged by another implementation.

Reference: the `jsonschema` package (Draft 2020-12), which shares no code with the service or
with the validator that the service uses on refused bodies.
"""

import copy
import json
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from jsonschema import Draft202012Validator

from service.contract.bodies import reader_of
from service.contract.examples import examples_folder
from service.contract.problems import ProblemError
from service.contract.schemas import component_schemas
from service.contract.solution import SolutionRequest

SAMPLE = json.loads((examples_folder() / "solution-request.json").read_bytes())


def without_patterns(node: Any) -> Any:
    """A schema without the patterns of texts, which their parsers enforce after decoding."""
    if isinstance(node, list):
        return [without_patterns(part) for part in node]
    if isinstance(node, dict):
        return {key: without_patterns(part) for key, part in node.items() if key != "pattern"}
    return node


REFERENCE = Draft202012Validator(
    {
        "$ref": "#/components/schemas/SolutionRequest",
        "components": {"schemas": without_patterns(component_schemas([SolutionRequest]))},
    }
)

scalars = st.none() | st.booleans() | st.integers(-2, 70) | st.sampled_from(
    [0.0, 1.0, 2.5, 12.0, 13.0, "", "1", "in", "steer", "sightline", "wedge", "x" * 41, 10**20]
)  # fmt: skip
anything = scalars | st.lists(scalars, max_size=2) | st.dictionaries(
    st.sampled_from(["kind", "axle", "left", "zzz"]), scalars, max_size=3
)  # fmt: skip


def places(node: Any, path: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    steps = (
        node.items()
        if isinstance(node, dict)
        else enumerate(node)
        if isinstance(node, list)
        else ()
    )
    return [path] + [place for step, child in steps for place in places(child, (*path, step))]


PLACES = places(SAMPLE)[1:]


@st.composite
def mutated(draw: st.DrawFn) -> Any:
    """The sample with up to three members replaced, removed or added."""
    body = copy.deepcopy(SAMPLE)
    for _ in range(draw(st.integers(1, 3))):
        *path, last = draw(st.sampled_from(PLACES))
        node = body
        try:
            for step in path:
                node = node[step]
            match draw(st.sampled_from(["replace", "remove", "add"])):
                case "replace":
                    node[last] = draw(anything)
                case "remove":
                    del node[last]
                case _ if isinstance(node, dict):
                    name = draw(st.sampled_from(["reference", "baseline", "uncertainty", "zzz"]))
                    node[name] = draw(anything)
                case _ if isinstance(node, list):
                    node.append(draw(anything))
        except (KeyError, IndexError, TypeError):
            continue
    return body


@settings(max_examples=600, deadline=None)
@given(mutated())
def test_a_body_is_read_exactly_when_the_published_schema_admits_it(body: Any) -> None:
    assert is_read(json.dumps(body).encode()) == REFERENCE.is_valid(body)


def is_read(body: bytes) -> bool:
    try:
        reader_of(SolutionRequest).read(body)
    except ProblemError:
        return False
    return True


@pytest.mark.parametrize("file", sorted(examples_folder().glob("solution-request*.json")), ids=str)
def test_the_examples_are_admitted_by_the_published_schema(file: Any) -> None:
    assert list(REFERENCE.iter_errors(json.loads(file.read_bytes()))) == []
