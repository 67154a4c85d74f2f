"""Keys that were looked at a moment ago and may compute on, without another look at the store.

Computing reads and changes nothing of a shop, and a look at the key costs more than the sum that
is asked for. So a key that may compute is taken at its word for some seconds. In the process that
revoked it, it is dead at once; others learn of it when the seconds are over. What is stored is
never reached this way: there the look is part of each unit of work.
"""

from collections import OrderedDict
from collections.abc import Callable
from datetime import UTC, datetime
from time import monotonic

from service.api.callers import Caller
from service.store.keys import KeyRecord


class Vouched:
    """Callers by the header they sent, until they need another look; the oldest make room."""

    def __init__(
        self,
        seconds: float = 5.0,
        most: int = 10_000,
        clock: Callable[[], float] = monotonic,
    ) -> None:
        self.seconds = seconds
        self._most = most
        self._clock = clock
        self._known: OrderedDict[bytes, tuple[float, Caller]] = OrderedDict()

    def get(self, authorization: bytes) -> Caller | None:
        """Who sent this header, if the key was looked at a moment ago."""
        until, caller = self._known.get(authorization, _NOBODY)
        return caller if self._clock() < until else None

    def add(self, authorization: bytes, caller: Caller, record: KeyRecord) -> None:
        """Take a key at its word from now on, though not beyond its end."""
        seconds = self.seconds
        if record.expires_at is not None:
            seconds = min(seconds, (record.expires_at - datetime.now(UTC)).total_seconds())
        self._known[authorization] = self._clock() + seconds, caller
        self._known.move_to_end(authorization)
        while len(self._known) > self._most:
            self._known.popitem(last=False)

    def forget(self) -> None:
        """Look at every key again; some key has just been ended."""
        self._known.clear()


_NOBODY: tuple[float, Caller | None] = (float("-inf"), None)
