"""Keys that were looked at a moment ago and may compute on, without another look at the store.

Computing reads and changes nothing of a shop, and a look at the key costs more than the sum that
is asked for. So a key that may compute is taken at its word for some seconds, but only for as long
as the store can tell at once that no process has changed it. On SQLite that is the key's row, read
again after each commit (`store/sqlite_keys.py`): a key that was revoked, here, elsewhere or from
the command line, is dead for the very next request. On PostgreSQL each process listens to the
changes (`store/postgres_keys.py`): the process that revoked a key forgets it at once, the others as
soon as they are told, which is milliseconds; one that does not listen just then looks at the store
each time. The seconds bound what a network that swallows the messages can do.

What is stored is never reached this way: there the look is part of each unit of work.
"""

from collections import OrderedDict
from collections.abc import Callable, Hashable
from datetime import UTC, datetime
from time import monotonic
from typing import NamedTuple

from service.api.callers import Caller
from service.store.key_watch import KeyWatch
from service.store.keys import KeyRecord, Token


class Sight(NamedTuple):
    """What was known of a key before it was looked at."""

    turn: int
    mark: Hashable | None


class Vouched:
    """Callers by the header they sent, until they need another look; the oldest make room."""

    def __init__(
        self,
        watch: KeyWatch,
        seconds: float = 5.0,
        most: int = 10_000,
        clock: Callable[[], float] = monotonic,
    ) -> None:
        self.watch = watch
        self.seconds = seconds
        self._most = most
        self._clock = clock
        self._turn = 0
        self._known: OrderedDict[bytes, tuple[float, Hashable, Caller]] = OrderedDict()

    def get(self, authorization: bytes) -> Caller | None:
        """Who sent this header, if the key was looked at a moment ago and is unchanged."""
        known = self._known.get(authorization)
        if known is None:
            return None
        until, mark, caller = known
        if self._clock() < until and self.watch.mark(caller.token) == mark:
            return caller
        return None

    def before_look(self, token: Token) -> Sight:
        """To be called before a key is looked at: what changes it meanwhile is then seen."""
        return Sight(self._turn, self.watch.mark(token))

    def add(self, authorization: bytes, caller: Caller, record: KeyRecord, sight: Sight) -> None:
        """Take a key at its word from now on, though not beyond its end."""
        if sight.mark is None or sight.turn != self._turn:
            return
        seconds = self.seconds
        if record.expires_at is not None:
            seconds = min(seconds, (record.expires_at - datetime.now(UTC)).total_seconds())
        self._known[authorization] = self._clock() + seconds, sight.mark, caller
        self._known.move_to_end(authorization)
        while len(self._known) > self._most:
            self._known.popitem(last=False)

    def forget(self) -> None:
        """Look at every key again; some key has just been ended."""
        self._turn += 1
        self._known.clear()
