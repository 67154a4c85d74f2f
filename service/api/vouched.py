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

from service.store.keys import KeyRecord, Token


class Vouched:
    """Tokens by the moment until which they need no other look; the oldest make room."""

    def __init__(
        self,
        seconds: float = 5.0,
        most: int = 10_000,
        clock: Callable[[], float] = monotonic,
    ) -> None:
        self.seconds = seconds
        self._most = most
        self._clock = clock
        self._until: OrderedDict[Token, float] = OrderedDict()

    def __contains__(self, token: Token) -> bool:
        until = self._until.get(token)
        return until is not None and self._clock() < until

    def add(self, token: Token, record: KeyRecord) -> None:
        """Take a token at its word from now on, though not beyond the end of its key."""
        seconds = self.seconds
        if record.expires_at is not None:
            seconds = min(seconds, (record.expires_at - datetime.now(UTC)).total_seconds())
        self._until[token] = self._clock() + seconds
        self._until.move_to_end(token)
        while len(self._until) > self._most:
            self._until.popitem(last=False)

    def forget(self) -> None:
        """Look at every key again; some key has just been ended."""
        self._until.clear()
