"""Limits per key and per address, and the headers that tell them.

Headers: draft-ietf-httpapi-ratelimit-headers-10, sections 3 and 4 (structured lists of RFC 9651).
"""

import asyncio
import re
from typing import Any

import msgspec
import pytest
from asking import answer_of, ask, scope_of
from hypothesis import given
from hypothesis import strategies as st
from served import READINGS, client_of

from service.api.rates import Counter, GoodKeys, OwnSource, Policy, cost_of
from service.app import create_app, document
from service.settings import Settings
from service.store.database import open_store

pytestmark = pytest.mark.anyio

BODY = msgspec.json.encode(READINGS)


def limited(**rates: str) -> Any:
    return create_app(Settings(compute_open=True, **rates))


def read(header: str) -> tuple[str, dict[str, int]]:
    """A list of one string item with integer parameters (RFC 9651), read strictly."""
    found = re.fullmatch(r'"([a-z]+)"((?:;[a-z]+=\d+)+)', header)
    assert found is not None, header
    pairs = [part.split("=") for part in found[2].split(";")[1:]]
    return found[1], {name: int(value) for name, value in pairs}


def test_each_answer_says_the_policy_and_what_is_left() -> None:
    app = limited(rate_per_address="5/3600")
    left = []
    for _ in range(5):
        answer = ask(app, "GET", "/v1/target-sets")
        assert read(answer.headers["ratelimit-policy"]) == ("address", {"q": 5, "w": 3600})
        name, said = read(answer.headers["ratelimit"])
        assert name == "address"
        assert 1 <= said["t"] <= 3600
        left.append(said["r"])
    assert left == [4, 3, 2, 1, 0]


def test_one_too_many_is_429_with_retry_after() -> None:
    app = limited(rate_per_address="2/3600")
    answers = [ask(app, "GET", "/v1/target-sets") for _ in range(3)]
    assert [answer.status for answer in answers] == [200, 200, 429]
    refused = answers[-1]
    assert refused.slug == "rate-limited"
    _, said = read(refused.headers["ratelimit"])
    assert said["r"] == 0
    assert refused.headers["retry-after"] == str(said["t"])
    assert refused.headers["ratelimit-policy"] == '"address";q=2;w=3600'


def test_a_refused_client_leaves_the_others_alone() -> None:
    app = limited(rate_per_address="1/3600")
    for number in range(3):
        assert from_address(app, f"203.0.113.{number}") == 200
        assert from_address(app, f"203.0.113.{number}") == 429


def test_the_addresses_of_one_ipv6_network_share_a_quota() -> None:
    app = limited(rate_per_address="1/3600")
    assert from_address(app, "2001:db8::1") == 200
    assert from_address(app, "2001:db8::ffff:2") == 429
    assert from_address(app, "2001:db8:0:1::1") == 200


def from_address(app: Any, address: str) -> int:
    """Status of a request that comes from an address."""

    async def once() -> int:
        status = 0

        async def receive() -> Any:
            return {"type": "http.request", "body": b"", "more_body": False}

        async def send(message: Any) -> None:
            nonlocal status
            status = message.get("status", status)

        scope = scope_of("GET", "/v1/target-sets")
        scope["client"] = (address, 4711)
        await app(scope, receive, send)
        return status

    return asyncio.run(once())


@pytest.mark.parametrize("path", ["/health/live", "/openapi.json", "/problems"])
def test_what_is_no_resource_is_not_limited(path: str) -> None:
    app = limited(rate_per_address="1/3600")
    for _ in range(3):
        answer = ask(app, "GET", path)
        assert answer.status == 200
        assert "ratelimit" not in answer.headers


def test_without_limits_no_header_speaks_of_any() -> None:
    assert "ratelimit" not in ask(create_app(Settings()), "GET", "/v1/target-sets").headers


def test_a_large_body_counts_for_more() -> None:
    app = limited(rate_per_address="10/3600")
    body = BODY + b" " * 150_000
    headers = [(b"content-type", b"application/json"), (b"content-length", b"%d" % len(body))]
    answer = ask(app, "POST", "/v1/solutions", body, headers)
    assert answer.status == 200
    assert read(answer.headers["ratelimit"])[1]["r"] == 7


@pytest.mark.parametrize(
    ("length", "cost"), [(None, 5), (b"0", 1), (b"65535", 1), (b"65536", 2), (b"9" * 40, 10)]
)
def test_the_cost_of_a_body(length: bytes | None, cost: int) -> None:
    assert cost_of(length, 10) == cost


async def test_a_good_key_counts_by_itself_and_not_by_its_address(sqlite_url: str) -> None:
    app, store = limited(rate_per_address="3/3600", rate_per_key="50/3600"), open_store(sqlite_url)
    await store.open()
    app.app.state["store"] = store
    async with client_of(app, store) as client, client_of(app, store) as other:
        first = await client.get("/v1/vehicles")
        assert read(first.headers["ratelimit"])[0] == "address"
        for _ in range(9):
            answer = await client.get("/v1/vehicles")
        assert read(answer.headers["ratelimit"]) == (
            "key",
            {"r": 41, "t": read(answer.headers["ratelimit"])[1]["t"]},
        )
        second = await other.get("/v1/vehicles")
        assert second.status_code == 200
    await store.close()


async def test_made_up_keys_count_by_the_address_that_makes_them_up() -> None:
    app = limited(rate_per_address="3/3600", rate_per_key="50/3600")
    statuses = []
    for number in range(5):
        headers = [(b"authorization", b"Bearer axw_made-up-%d" % number)]
        statuses.append((await answer_of(app, "GET", "/v1/vehicles", headers=headers)).status)
    assert statuses == [401, 401, 401, 429, 429]


@given(
    quota=st.integers(1, 50),
    asked=st.lists(st.tuples(st.sampled_from([b"a", b"b"]), st.integers(1, 5)), max_size=200),
)
def test_no_caller_takes_more_than_the_quota_nor_is_refused_less(
    quota: int, asked: list[tuple[bytes, int]]
) -> None:
    taken = asyncio.run(all_taken(quota, asked))
    assert max(taken.values()) <= quota


async def all_taken(quota: int, asked: list[tuple[bytes, int]]) -> dict[bytes, int]:
    """What each caller got; every single answer is checked on the way."""
    counter, source = Counter(Policy("key", quota, 60)), OwnSource()
    taken = {b"a": 0, b"b": 0}
    for who, wanted in asked:
        cost = min(wanted, quota)
        left = counter.take(who, cost, 1000.0)
        if left is None:
            left = await counter.take_leased(source, who, cost, 1000.0)
        if left < 0:
            assert taken[who] + cost > quota
            continue
        taken[who] += cost
        assert left == quota - taken[who]
    return taken


async def test_a_new_window_begins_with_the_whole_quota() -> None:
    counter, source = Counter(Policy("key", 1, 60)), OwnSource()
    assert await counter.take_leased(source, b"a", 1, 60.0) == 0
    assert await counter.take_leased(source, b"a", 1, 119.9) == -1
    assert counter.turns_in(119.9) == 1
    assert await counter.take_leased(source, b"a", 1, 120.0) == 0


def test_keys_that_were_found_good_are_forgotten_from_the_oldest() -> None:
    keys = GoodKeys(2)
    for one in (b"a", b"b", b"a", b"c"):
        keys.add(one)
    assert [one in keys for one in (b"a", b"b", b"c")] == [True, False, True]


def test_every_operation_of_a_version_documents_429_and_its_headers() -> None:
    found = document()
    shared = found["components"]["responses"]["Problem429"]
    assert set(shared["headers"]) == {"Request-Id", "Retry-After", "RateLimit", "RateLimit-Policy"}
    for path, item in found["paths"].items():
        for method, operation in item.items():
            if path.startswith("/v1/") and method in ("get", "post", "put", "patch", "delete"):
                assert {"429", "503", "431"} <= set(operation["responses"]), (method, path)
                good = next(v for k, v in operation["responses"].items() if k.startswith("2"))
                assert {"RateLimit", "RateLimit-Policy"} <= set(good["headers"]), (method, path)
