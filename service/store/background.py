"""Work that goes on beside the requests until it is stopped."""

import asyncio
import logging
from collections.abc import Coroutine
from typing import Any

_log = logging.getLogger("service")


class Background:
    """One task at a time; what ends it unasked is told in the log."""

    def __init__(self) -> None:
        self._task: asyncio.Task[None] | None = None

    def start(self, work: Coroutine[Any, Any, None]) -> None:
        """Begin work, which keeps nobody waiting."""
        self._task = asyncio.create_task(work)
        self._task.add_done_callback(_tell)

    async def stop(self, *others: asyncio.Task[None]) -> None:
        """Cancel the task, if there is one, and others with it, and wait until they have ended."""
        tasks = [task for task in (self._task, *others) if task is not None]
        self._task = None
        for task in tasks:
            task.cancel()
        await asyncio.gather(*tasks, return_exceptions=True)


def _tell(task: asyncio.Task[None]) -> None:
    error = None if task.cancelled() else task.exception()
    if error is not None:
        _log.error("what ran in the background has ended: %r", error, exc_info=error)
