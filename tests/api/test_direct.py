"""A request that goes the short way to its handler is answered as the framework would answer it."""

import json
from collections.abc import Iterable
from pathlib import Path
from typing import Any

import pytest
from asking import JSON_HEADERS, Answer, ask

from service.api.direct import Direct
from service.api.solutions import solve_vehicle
from service.app import EVERY_ROUTE, create_app
from service.settings import Settings

EXAMPLES = Path(__file__).resolve().parents[2] / "openapi" / "examples"
SOLUTION = (EXAMPLES / "solution-request.json").read_bytes()
SHORT = create_app()
LONG = create_app()
LONG._direct._handlers.clear()

BODIES: dict[str, bytes] = {
    "good": SOLUTION,
    "empty": b"",
    "no JSON": b"{",
    "null": b"null",
    "unknown field": SOLUTION.replace(b"{", b'{"colour": "red",', 1),
    "twice": SOLUTION.replace(b"{", b'{"length_unit": "in", "length_unit": "in",', 1),
    "wrong readings": json.dumps({**json.loads(SOLUTION), "readings": []}).encode(),
    "large": b" " * 2_000_000,
}
HEADERS: dict[str, Iterable[tuple[bytes, bytes]]] = {
    "plain": JSON_HEADERS,
    "host": (*JSON_HEADERS, (b"host", b"axles.example:8410")),
    "no media type": (),
    "text": ((b"content-type", b"text/plain"),),
    "strange host": (*JSON_HEADERS, (b"host", b"a b")),
    "wants text": (*JSON_HEADERS, (b"accept", b"text/csv")),
    "length": (*JSON_HEADERS, (b"content-length", b"99999999")),
}
PATHS = tuple(SHORT._direct._handlers)


def told(answer: Answer) -> tuple[int, dict[str, str], Any]:
    """An answer without what differs from request to request."""
    headers = {k: v for k, v in answer.headers.items() if k not in ("request-id", "ratelimit")}
    headers["content-length"] = "any"
    body = answer.json
    body.pop("instance", None)
    return answer.status, headers, body


def test_the_solvers_go_the_short_way() -> None:
    assert set(PATHS) >= {"/v1/solutions", "/v1/comparisons", "/v1/straight-runnings"}


@pytest.mark.parametrize("path", PATHS)
@pytest.mark.parametrize("headers", HEADERS.values(), ids=HEADERS)
@pytest.mark.parametrize("body", BODIES.values(), ids=BODIES)
def test_both_ways_end_alike(path: str, headers: Any, body: bytes) -> None:
    short, long = (ask(app, "POST", path, body, headers) for app in (SHORT, LONG))
    assert told(short) == told(long)


@pytest.mark.parametrize("method", ["GET", "PUT", "HEAD", "OPTIONS", "DELETE"])
def test_other_methods_are_the_frameworks(method: str) -> None:
    short, long = (ask(app, method, "/v1/solutions", SOLUTION) for app in (SHORT, LONG))
    assert (short.status, short.headers["allow"]) == (long.status, long.headers["allow"])


@pytest.mark.parametrize("query", [b"", b"plan=false"])
def test_a_query_is_refused_both_ways(query: bytes) -> None:
    short, long = (
        ask(app, "POST", "/v1/solutions", SOLUTION, query=query) for app in (SHORT, LONG)
    )
    assert told(short) == told(long)


def test_a_key_is_asked_for_the_short_way_too(sqlite_url: str) -> None:
    keyed = create_app(Settings(database_url=sqlite_url, compute_open=False))
    assert set(keyed._direct._handlers) == set(PATHS)
    assert ask(keyed, "POST", "/v1/solutions", SOLUTION).status == 401


def test_a_fault_of_the_service_is_told_as_one_and_nothing_more(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def fall(_request: Any) -> bytes:
        raise RuntimeError("inner words")

    monkeypatch.setattr("service.api.solutions.printed_answer", fall)
    answer = ask(SHORT, "POST", "/v1/solutions", SOLUTION)
    assert (answer.status, answer.slug) == (500, "internal-error")
    assert b"inner words" not in answer.body


def test_a_handler_that_asks_for_more_goes_the_long_way() -> None:
    app = create_app(routes=EVERY_ROUTE).app
    short = Direct(app)._handlers.values()
    parameters = [set(handler.parsed_fn_signature.parameters) for handler in short]
    assert parameters == [{"data"}] * len(parameters)
    assert any(handler.fn is solve_vehicle.fn for handler in short)
