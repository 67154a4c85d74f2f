"""Work in the background ends when it is stopped, and is not missed when it ends by itself."""

import asyncio
import logging

import pytest

from service.store.background import Background

pytestmark = pytest.mark.anyio


async def waiting(ended: list[str], name: str) -> None:
    try:
        await asyncio.sleep(60)
    finally:
        await asyncio.sleep(0)
        ended.append(name)


async def test_stop_waits_until_all_of_it_has_ended() -> None:
    background, ended = Background(), list[str]()
    background.start(waiting(ended, "own"))
    other = asyncio.create_task(waiting(ended, "other"))
    await asyncio.sleep(0)
    await background.stop(other)
    assert sorted(ended) == ["other", "own"]


async def test_to_stop_what_was_not_started_does_nothing() -> None:
    await Background().stop()


async def test_what_ends_it_unasked_is_told_in_the_log(caplog: pytest.LogCaptureFixture) -> None:
    async def fails() -> None:
        raise RuntimeError("the disk is on fire")

    background = Background()
    with caplog.at_level(logging.ERROR, "service"):
        background.start(fails())
        await asyncio.sleep(0)
        await background.stop()
    assert "the disk is on fire" in caplog.text
