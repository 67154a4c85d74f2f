"""Who asks: what a request says of itself, and the look at the key that proves it.

The look is part of the unit of work that the request is for, so that it costs one statement and
not a transaction of its own, and a key that was revoked is dead for the very next request.
`vouched` tells the one exception, which is for computing alone.
"""

import asyncio
from collections import OrderedDict
from datetime import UTC, datetime
from time import monotonic
from typing import Any
from uuid import UUID

from service.contract.problem_catalogue import FORBIDDEN, RATE_LIMITED, UNAUTHORISED
from service.contract.problems import FieldError, ProblemError
from service.store import keys
from service.store.database import Store
from service.store.keys import KeyRecord, Token
from service.store.scope import ShopScope


class FailedAttempts:
    """Wrong keys by address: after `most` within a minute, the rest of the minute is refused."""

    def __init__(self, most: int = 30, window: float = 60.0, addresses: int = 10_000) -> None:
        self.most = most
        self.window = window
        self.addresses = addresses
        self._failed: OrderedDict[str, tuple[float, int]] = OrderedDict()

    def refuse_if_many(self, address: str) -> None:
        """Raise 429 while an address has used up its wrong keys."""
        since, count = self._failed.get(address, (0.0, 0))
        left = since + self.window - monotonic()
        if count >= self.most and left > 0:
            detail = "Too many wrong keys came from this address."
            raise ProblemError(RATE_LIMITED, detail, headers={"Retry-After": str(int(left) + 1)})

    def note(self, address: str) -> None:
        """Count one wrong key."""
        now = monotonic()
        since, count = self._failed.pop(address, (now, 0))
        if now - since > self.window:
            since, count = now, 0
        self._failed[address] = (since, count + 1)
        while len(self._failed) > self.addresses:
            self._failed.popitem(last=False)


class Caller:
    """A request's token, the scope that it needs, and the key once it was looked at."""

    __slots__ = ("_in_log", "address", "failed", "needed", "proved", "token")

    def __init__(self, token: Token, needed: str, address: str, failed: FailedAttempts) -> None:
        self.token = token
        self.needed = needed
        self.address = address
        self.failed = failed
        self.proved = False
        self._in_log = b""

    @property
    def shop(self) -> UUID:
        """The shop that the token says; nothing of it is shown before `prove`."""
        return self.token.shop

    @property
    def in_log(self) -> bytes:
        """The fields that a log line gets: nothing before the key was proved, for it is a claim."""
        if self.proved and not self._in_log:
            self._in_log = f',"shop":"{self.token.shop}","key":"{self.token.key}"'.encode()
        return self._in_log

    def prove(self, scope: ShopScope) -> KeyRecord:
        """The key, if it is good and has the scope; else a problem with 401 or 403."""
        record = keys.check(scope, self.token)
        if record is None:
            self.failed.note(self.address)
            raise unauthorised("The key is unknown, expired or revoked.")
        self.proved = True
        if self.needed not in record.scopes.split():
            detail = f"The key has the scopes {record.scopes}; this needs {self.needed}."
            raise ProblemError(FORBIDDEN, detail)
        return record


def caller_from(headers: Any, needed: str, address: str, failed: FailedAttempts) -> Caller:
    """The caller that the headers of a request name; 401 where they name none."""
    failed.refuse_if_many(address)
    for name, value in headers:
        if name == b"authorization":
            kind, _, text = value.decode("latin-1").partition(" ")
            if kind.lower() == "bearer":
                token = keys.read_token(text.strip())
                if token is not None:
                    return Caller(token, needed, address, failed)
                failed.note(address)
                raise unauthorised("The key is unknown, expired or revoked.")
    raise unauthorised("The request carries no key.")


def unauthorised(detail: str) -> ProblemError:
    """The problem of a request that proves no key."""
    hint = "Send Authorization: Bearer with a key of the shop."
    return ProblemError(
        UNAUTHORISED,
        detail,
        [FieldError("Authorization:", detail, hint)],
        {"WWW-Authenticate": "Bearer"},
    )


_notes: dict[UUID, asyncio.Task[None]] = {}


def note_use(store: Store, shop: UUID, record: KeyRecord) -> None:
    """Note the key's use beside the request, once a minute; failing at it hurts nobody."""
    if record.id in _notes or not keys.use_is_due(record, datetime.now(UTC)):
        return

    def work(scope: ShopScope) -> None:
        keys.note_use(scope, record.id)

    task = asyncio.create_task(store.write(shop, work))
    _notes[record.id] = task
    task.add_done_callback(lambda done: _noted(record.id, done))


async def uses_noted() -> None:
    """Wait until every use that is being noted is; before the store is closed."""
    await asyncio.gather(*_notes.values(), return_exceptions=True)


def _noted(key: UUID, task: asyncio.Task[None]) -> None:
    _notes.pop(key, None)
    if not task.cancelled():
        task.exception()  # looked at, so that asyncio does not report it
