"""Limits that replicas share, against a real Redis; and those that processes of a port share."""

import asyncio
import logging
from pathlib import Path
from typing import Any

import pytest
import redis
from asking import answer_of
from hypothesis import given, settings
from hypothesis import strategies as st
from redis_server import RedisServer, redis_server  # noqa: F401 - a fixture by its name

from service.api.folder_rates import FolderSource
from service.api.rates import Counter, Policy, Source
from service.api.shared_rates import SharedSource
from service.app import create_app
from service.settings import Settings

pytestmark = pytest.mark.anyio

POLICY = Policy("key", 100, 60)


async def ask_in_turns(sources: list[Source], times: int, now: float = 600.0) -> list[int]:
    """How much each of several replicas lets through, asked in turns."""
    counters = [Counter(POLICY) for _ in sources]
    passed = [0] * len(sources)
    for number in range(times):
        which = number % len(sources)
        left = counters[which].take(b"Bearer x", 1, now)
        if left is None:
            left = await counters[which].take_leased(sources[which], b"Bearer x", 1, now)
        passed[which] += left >= 0
    return passed


async def test_replicas_together_let_the_quota_through_and_no_more(
    redis_server: RedisServer,  # noqa: F811
) -> None:
    sources: list[Source] = [SharedSource(redis_server.url) for _ in range(3)]
    passed = await ask_in_turns(sources, 600)
    assert sum(passed) == POLICY.quota
    assert min(passed) > 0
    for source in sources:
        await source.close()


async def test_one_request_in_several_asks_the_server(
    redis_server: RedisServer,  # noqa: F811
) -> None:
    with redis.Redis.from_url(redis_server.url) as client:
        source = SharedSource(redis_server.url)
        await ask_in_turns([source], 50)
        calls = client.info("commandstats")["cmdstat_evalsha"]["calls"]
        await source.close()
    assert 1 <= calls <= 15


async def test_the_server_is_told_no_key_and_forgets_by_itself(
    redis_server: RedisServer,  # noqa: F811
) -> None:
    source = SharedSource(redis_server.url)
    await ask_in_turns([source], 3)
    await source.close()
    with redis.Redis.from_url(redis_server.url) as client:
        [name] = client.keys("*")
        assert name.startswith(b"axlewright:key:10:")
        assert b"Bearer" not in name
        assert 0 < client.ttl(name) <= 2 * POLICY.window


async def test_without_the_server_each_counts_alone_and_says_so_once(
    redis_server: RedisServer,  # noqa: F811
    caplog: pytest.LogCaptureFixture,
) -> None:
    redis_server.stop()
    source = SharedSource(redis_server.url)
    with caplog.at_level(logging.WARNING, "service"):
        passed = await ask_in_turns([source], 150)
        assert passed == [POLICY.quota]
        again = await ask_in_turns([source], 150, 660.0)
    assert again == [POLICY.quota]
    assert [r.getMessage() for r in caplog.records] == [
        "rate limits are counted by each process alone: ConnectionError"
    ]
    redis_server.start()
    source._away_until = 0.0
    with caplog.at_level(logging.WARNING, "service"):
        await ask_in_turns([source], 1, 720.0)
    assert caplog.records[-1].getMessage() == "rate limits are shared again"
    await source.close()


async def test_two_replicas_refuse_what_one_alone_would_let_through(
    redis_server: RedisServer,  # noqa: F811
) -> None:
    given = Settings(compute_open=True, rate_per_address="40/3600", limits_url=redis_server.url)
    replicas: list[Any] = [create_app(given) for _ in range(2)]
    statuses = [
        (await answer_of(replicas[number % 2], "GET", "/v1/target-sets")).status
        for number in range(60)
    ]
    assert statuses.count(200) == 40
    assert set(statuses[-15:]) == {429}
    for replica in replicas:
        await replica.watch._source.close()


async def test_a_valkey_address_is_understood() -> None:
    assert SharedSource("valkey://h:1/0")._url == "redis://h:1/0"
    assert SharedSource("valkeys://h:1/0")._url == "rediss://h:1/0"


async def test_processes_of_a_port_share_a_quota_through_their_folder(tmp_path: Path) -> None:
    sources: list[Source] = [FolderSource(tmp_path) for _ in range(3)]
    assert sum(await ask_in_turns(sources, 600)) == POLICY.quota
    assert sum(await ask_in_turns(sources, 600, 660.0)) == POLICY.quota
    for source in sources:
        await source.close()


async def test_a_folder_that_cannot_be_used_leaves_each_process_to_itself(tmp_path: Path) -> None:
    source = FolderSource(tmp_path / "gone")
    assert await ask_in_turns([source], 150) == [POLICY.quota]


@settings(max_examples=20)
@given(st.lists(st.tuples(st.integers(0, 2), st.integers(1, 9)), max_size=80))
def test_leases_of_any_order_and_size_never_exceed_the_quota(
    tmp_path_factory: pytest.TempPathFactory, asked: list[tuple[int, int]]
) -> None:
    folder = tmp_path_factory.mktemp("rates")

    async def leased() -> int:
        sources = [FolderSource(folder) for _ in range(3)]
        granted = [
            (await sources[which].lease(POLICY, b"x", 10, cost)).granted for which, cost in asked
        ]
        for source in sources:
            await source.close()
        return sum(granted)

    assert asyncio.run(leased()) <= POLICY.quota
