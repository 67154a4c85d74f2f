"""Whatever is sent, the door answers: never a 5xx, and every refusal a problem.

500 cases in a plain run, 5,000 with CI set, 100,000 with `-m long`.
"""

import json
import os
from typing import Any

import pytest
from asking import JSON_HEADERS, ask
from fuzzed import json_bytes, json_values, mutated, spliced
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


BODIES = {
    "raw": st.binary(max_size=400),
    "json": json_values.map(json_bytes),
    "spliced": spliced(SAMPLE),
    "mutated": mutated(json.loads(SAMPLE)),
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
