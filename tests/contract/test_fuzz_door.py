"""Whatever is sent, the door answers: never a 5xx, and every refusal a problem.

500 cases in a plain run, 5,000 with CI set, 100,000 with `-m long`.
"""

import copy
import json
import os
from typing import Any

import pytest
from asking import JSON_HEADERS, ask
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from litestar import post
from litestar.params import JSONBody

from service.app import ROUTES, create_app
from service.contract.base import OpenStruct
from service.contract.examples import examples_folder
from service.contract.problem_catalogue import KINDS
from service.contract.solution import SolutionRequest
from service.settings import Settings


class Count(OpenStruct):
    """How many readings came through."""

    readings: int


@post("/fuzzed", status_code=200)
async def count_readings(data: JSONBody[SolutionRequest]) -> Count:
    """The door and the contract alone, without a solver behind them."""
    return Count(readings=len(data.readings))


APP = create_app(Settings(), [count_readings])
SERVICE = create_app(Settings(), ROUTES)
SAMPLE = (examples_folder() / "solution-request.json").read_bytes()

CASES = 5000 if os.environ.get("CI") else 500
MANY = settings(
    max_examples=CASES // 4,
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)
VERY_MANY = settings(MANY, max_examples=25_000)


def answer_is_sound(app: Any, path: str, body: bytes, headers: Any = JSON_HEADERS) -> None:
    answer = ask(app, "POST", path, body, headers)
    assert answer.status < 500, (answer.status, answer.body)
    if answer.status != 200:
        assert answer.slug in KINDS
        assert answer.status in (400, 413, 415, 422)


def cut_and_spliced(draw: st.DrawFn) -> bytes:
    """The sample with pieces of it taken out, repeated, or replaced by bytes of any kind."""
    body = SAMPLE
    for _ in range(draw(st.integers(1, 4))):
        begin = draw(st.integers(0, len(body)))
        end = draw(st.integers(begin, min(len(body), begin + 40)))
        piece = draw(st.binary(max_size=6) | st.sampled_from(PIECES))
        body = body[:begin] + piece + body[end:]
    return body


PIECES = [
    b"", b'"', b"{", b"}", b"[", b"]", b":", b",", b"\\", b"\\u", b"\\ud800", b"NaN", b"1e999",
    b"-", b"null", b"true", b"3.0", b'"kind":', b'"axle":1,"axle":2,', b"[" * 1500, b'{"a":' * 1500,
    b"\xef\xbb\xbf", b"\xff", b"\x00", b"9" * 400,
]  # fmt: skip

json_values = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False, allow_infinity=False)
    | st.text(max_size=8),
    lambda inner: (
        st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=6), inner, max_size=3)
    ),
    max_leaves=6,
)  # fmt: skip


def places(node: Any, path: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    steps: Any = node.items() if isinstance(node, dict) else ()
    steps = enumerate(node) if isinstance(node, list) else steps
    return [path] + [place for step, child in steps for place in places(child, (*path, step))]


PLACES = places(json.loads(SAMPLE))[1:]


def mutated(draw: st.DrawFn) -> bytes:
    """The sample with one to three of its values replaced by any others."""
    body = copy.deepcopy(json.loads(SAMPLE))
    for _ in range(draw(st.integers(1, 3))):
        *path, last = draw(st.sampled_from(PLACES))
        node = body
        for step in path:
            node = node[step] if has(node, step) else {}
        if isinstance(node, dict) or has(node, last):
            node[last] = draw(json_values)
    return json.dumps(body).encode("utf-8", "surrogatepass")


def has(node: Any, step: Any) -> bool:
    if isinstance(node, list):
        return isinstance(step, int) and step < len(node)
    return isinstance(node, dict) and step in node


BODIES = {
    "raw": st.binary(max_size=400),
    "json": json_values.map(lambda value: json.dumps(value).encode("utf-8", "surrogatepass")),
    "spliced": st.composite(cut_and_spliced)(),
    "mutated": st.composite(mutated)(),
}


@pytest.mark.parametrize("kind", BODIES)
def test_any_body_is_read_or_refused_with_a_problem(kind: str) -> None:
    given(BODIES[kind])(MANY(lambda body: answer_is_sound(APP, "/fuzzed", body)))()


@pytest.mark.long
@pytest.mark.parametrize("kind", BODIES)
def test_any_of_very_many_bodies_is_read_or_refused_with_a_problem(
    kind: str, pytestconfig: pytest.Config
) -> None:
    if "long" not in pytestconfig.option.markexpr:
        pytest.skip("runs with -m long")
    given(BODIES[kind])(VERY_MANY(lambda body: answer_is_sound(APP, "/fuzzed", body)))()


@MANY
@given(BODIES["mutated"])
def test_a_mutated_request_is_solved_or_refused_by_the_whole_service(body: bytes) -> None:
    answer_is_sound(SERVICE, "/v1/solutions", body)


header_values = st.binary(max_size=40) | st.sampled_from(
    [
        b"application/json",
        b"application/json;charset=",
        b";",
        b"*/*",
        b"a/b;q=",
        b",",
        b"gzip",
        b"-1",
    ]
)
HEADER_NAMES = [
    b"content-type", b"accept", b"content-length", b"content-encoding", b"request-id", b"host",
    b"x-unknown",
]  # fmt: skip
headers = st.lists(
    st.tuples(
        st.sampled_from(HEADER_NAMES),
        header_values,
    ),
    max_size=4,
)


@MANY
@given(headers)
def test_any_headers_are_answered(given_headers: Any) -> None:
    answer = ask(APP, "POST", "/fuzzed", SAMPLE, given_headers)
    assert answer.status < 500
    assert answer.status == 200 or answer.slug in KINDS


@MANY
@given(
    st.text(max_size=30),
    st.binary(max_size=30),
    st.sampled_from(["GET", "HEAD", "OPTIONS", "PUT", "X"]),
)
def test_any_address_and_query_are_answered(path: str, query: bytes, method: str) -> None:
    for address in (path, "/" + path, "/v1/conversions/toe", "/problems/" + path):
        answer = ask(SERVICE, method, address, query=query)
        assert answer.status < 500
        assert method == "HEAD" or answer.status in (200, 204) or answer.slug in KINDS
