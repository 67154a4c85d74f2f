"""From bytes to a struct: what is let in, what is refused, and as which kind of problem."""

import copy
import json
from collections.abc import Callable
from typing import Any

import pytest

from service.contract.bodies import BodyReader, reader_of
from service.contract.examples import examples_folder
from service.contract.problems import ProblemError
from service.contract.readings import SightlineReading
from service.contract.solution import SolutionRequest

SAMPLE = (examples_folder() / "solution-request.json").read_bytes()


def read(body: bytes) -> Any:
    return reader_of(SolutionRequest).read(body)


def refused(body: bytes) -> ProblemError:
    with pytest.raises(ProblemError) as caught:
        read(body)
    return caught.value


def changed(change: Callable[[dict[str, Any]], object]) -> bytes:
    body = copy.deepcopy(json.loads(SAMPLE))
    change(body)
    return json.dumps(body).encode()


def test_the_sample_request_becomes_a_struct() -> None:
    request = read(SAMPLE)
    assert isinstance(request, SolutionRequest)
    assert isinstance(request.readings[0], SightlineReading)


def test_a_whole_number_written_with_a_point_is_an_integer() -> None:
    """JSON Schema 2020-12, 6.1.1: a number with a zero fractional part is an integer."""
    request = read(changed(lambda body: body["readings"][0].update(axle=2.0)))
    assert request.readings[0].axle == 2
    assert type(request.readings[0].axle) is int


@pytest.mark.parametrize("wrong", ["2", 2.5, True, None, [], {}], ids=repr)
def test_nothing_else_is_taken_for_an_integer(wrong: Any) -> None:
    problem = refused(changed(lambda body: body["readings"][0].update(axle=wrong)))
    assert problem.kind.slug == "contract-broken"
    assert [error.pointer for error in problem.errors] == ["#/readings/0/axle"]


def test_a_number_is_not_taken_for_the_text_that_was_read() -> None:
    problem = refused(changed(lambda body: body["readings"][0].update(left=31.75)))
    assert '"31.75"' in problem.errors[0].hint


UNPARSABLE = {
    "nothing": (b"", "malformed-json"),
    "blanks": (b"  \n ", "malformed-json"),
    "a cut-off object": (b'{"length_unit": "in"', "malformed-json"),
    "a trailing comma": (b'{"a": 1,}', "malformed-json"),
    "a comment": (b'{"a": 1} // one', "malformed-json"),
    "single quotes": (b"{'a': 1}", "malformed-json"),
    "a leading zero": (b'{"a": 01}', "malformed-json"),
    "a line break in a string": (b'{"a": "\n"}', "malformed-json"),
    "a NUL": (b'{"a": "\x00"}', "malformed-json"),
    "an unknown escape": (b'{"a": "\\x41"}', "malformed-json"),
    "a second value": (b"{}{}", "malformed-json"),
    "a high surrogate alone": (b'{"a": "\\ud800"}', "malformed-json"),
    "a low surrogate alone": (b'{"a": "\\udc00"}', "malformed-json"),
    "a surrogate in UTF-8": (b'{"a": "\xed\xa0\x80"}', "malformed-json"),
    "an overlong form": (b'{"a": "\xc0\xaf"}', "malformed-json"),
    "latin-1": ('{"a": "é"}'.encode("latin-1"), "malformed-json"),
    "UTF-16": ('{"a": 1}'.encode("utf-16"), "malformed-json"),
    "UTF-16 without a mark": ('{"a": 1}'.encode("utf-16-le"), "malformed-json"),
    "a byte order mark": (b"\xef\xbb\xbf{}", "malformed-json"),
    "NaN": (b'{"a": NaN}', "non-finite-number"),
    "Infinity": (b'{"a": Infinity}', "non-finite-number"),
    "minus Infinity": (b'{"a": -Infinity}', "non-finite-number"),
    "1e999": (b'{"a": 1e999}', "non-finite-number"),
    "minus 1e999": (b'{"a": -1e999}', "non-finite-number"),
    "5,000 digits": (b'{"a": ' + b"1" * 5000 + b"}", "non-finite-number"),
    "2,000 arrays in each other": (b"[" * 2000 + b"]" * 2000, "nested-too-deeply"),
    "200,000 arrays in each other": (b"[" * 200_000 + b"]" * 200_000, "nested-too-deeply"),
    "200,000 arrays begun": (b"[" * 200_000, "nested-too-deeply"),
    "2,000 objects in each other": (b'{"a":' * 2000 + b"1" + b"}" * 2000, "nested-too-deeply"),
    "65 arrays in each other": (b"[" * 65 + b"]" * 65, "nested-too-deeply"),
}


@pytest.mark.parametrize("name", UNPARSABLE)
def test_what_is_no_sound_json_is_a_400_of_its_own_kind(name: str) -> None:
    body, slug = UNPARSABLE[name]
    problem = refused(body)
    assert (problem.kind.status, problem.kind.slug) == (400, slug)
    assert problem.detail
    assert problem.errors[0].hint


@pytest.mark.parametrize("number", [b"NaN", b"-Infinity", b"1e999"], ids=bytes.decode)
def test_a_number_that_is_not_finite_is_found_inside_a_valid_request(number: bytes) -> None:
    body = SAMPLE.replace(b'"axle": 2', b'"axle": ' + number, 1)
    assert refused(body).kind.slug == "non-finite-number"


def test_deep_nesting_is_found_in_a_field_that_should_be_text() -> None:
    deep = b"[" * 3000 + b"]" * 3000
    assert refused(SAMPLE.replace(b'"3 5/16"', deep, 1)).kind.slug == "nested-too-deeply"


def test_sixty_four_levels_are_judged_by_the_contract() -> None:
    assert refused(b"[" * 64 + b"]" * 64).kind.slug == "contract-broken"


@pytest.mark.parametrize("body", [b"null", b"[]", b'"text"', b"1", b"true"], ids=bytes.decode)
def test_json_that_is_no_object_breaks_the_contract_at_its_root(body: bytes) -> None:
    problem = refused(body)
    assert (problem.kind.status, problem.errors[0].pointer) == (422, "#")


def test_a_fault_in_syntax_comes_before_a_fault_against_the_contract() -> None:
    assert refused(b'{"length_unit": 5, "vehicle": ]').kind.slug == "malformed-json"


def test_a_body_has_to_be_a_struct_with_a_name() -> None:
    with pytest.raises(TypeError, match="struct with a name"):
        BodyReader(list[int])
