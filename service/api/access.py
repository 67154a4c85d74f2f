"""Who asks, in which shop's name, and whether the key allows it.

A handler of stored work is declared with `**needs("read")`; by the time it runs, `caller_of` its
request is known. Nothing of a shop is ever looked for without it.
"""

import asyncio
from collections import OrderedDict
from datetime import UTC, datetime
from time import monotonic
from typing import Any, NamedTuple
from uuid import UUID

from litestar.connection import ASGIConnection
from litestar.handlers.base import BaseRouteHandler

from service.api.storing import told_as_problems
from service.contract.problem_catalogue import (
    FORBIDDEN,
    RATE_LIMITED,
    UNAUTHORISED,
    UNAVAILABLE,
    ProblemKind,
)
from service.contract.problems import FieldError, ProblemError
from service.store import keys
from service.store.database import Store
from service.store.scope import ShopScope

SECURITY: list[dict[str, list[str]]] = [{"ShopKey": []}]


class Caller(NamedTuple):
    """The shop and the key that a request comes with."""

    shop: UUID
    key: UUID


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


def needs(
    scope: str,
    *problems: ProblemKind,
    headers: tuple[str, ...] = (),
    requires: tuple[str, ...] = (),
    **more: Any,
) -> dict[str, Any]:
    """Keyword arguments of a handler that takes a key with this scope.

    `headers` are those of its answer, `requires` those of the request that it refuses to miss.
    """
    kinds = (UNAUTHORISED, FORBIDDEN, RATE_LIMITED, UNAVAILABLE, *problems)
    return {
        "guards": [admit],
        "security": SECURITY,
        "opt": {
            "scope": scope,
            "problems": kinds,
            "headers": headers,
            "requires": requires,
            **more,
        },
    }


def caller_of(request: Any) -> Caller:
    """The caller of a request that was admitted."""
    caller: Caller = request.scope["caller"]
    return caller


async def admit(connection: ASGIConnection[Any, Any, Any, Any], handler: BaseRouteHandler) -> None:
    """Let a request in whose key is good and has the handler's scope; Litestar's guard."""
    _require(await known_key(connection), handler.opt["scope"])


async def admit_computing(
    connection: ASGIConnection[Any, Any, Any, Any], handler: BaseRouteHandler
) -> None:
    """Guard of a whole application whose computing is not open: a key with `compute` is needed.

    Handlers with a scope of their own and what is no resource of a version (health, document,
    problem pages) are not its business.
    """
    if "scope" not in handler.opt and connection.scope["path"].startswith("/v1/"):
        _require(await known_key(connection), "compute")


async def brings_key(request: Any) -> bool:
    """Whether a request to an open operation comes with a key that may read; a bad one is 401."""
    if "authorization" not in request.headers or "store" not in request.app.state:
        return False
    _require(await known_key(request), "read")
    return True


def _require(record: keys.KeyRecord, scope: str) -> None:
    if scope not in record.scopes.split():
        detail = f"The key has the scopes {record.scopes}; this needs {scope}."
        raise ProblemError(FORBIDDEN, detail)


async def known_key(connection: ASGIConnection[Any, Any, Any, Any]) -> keys.KeyRecord:
    """The key that a request carries, checked; notes the caller in the request's scope."""
    state = connection.app.state
    store: Store = state["store"]
    failed: FailedAttempts = state["failed_attempts"]
    address = (connection.scope.get("client") or ("", 0))[0]
    failed.refuse_if_many(address)
    text = _bearer(connection)
    token = keys.read_token(text)
    record = None
    if token is not None:
        with told_as_problems():
            record = await store.read(token.shop, lambda scope: keys.check(scope, token))
    if record is None or token is None:
        failed.note(address)
        raise _unauthorised("The key is unknown, expired or revoked.")
    connection.scope["caller"] = Caller(token.shop, token.key)  # type: ignore[typeddict-unknown-key]
    _note_use(store, token.shop, record)
    return record


def _bearer(connection: ASGIConnection[Any, Any, Any, Any]) -> str:
    for name, value in connection.scope["headers"]:
        if name == b"authorization":
            kind, _, text = value.decode("latin-1").partition(" ")
            if kind.lower() == "bearer":
                return text.strip()
    raise _unauthorised("The request carries no key.")


def _unauthorised(detail: str) -> ProblemError:
    hint = "Send Authorization: Bearer with a key of the shop."
    return ProblemError(
        UNAUTHORISED,
        detail,
        [FieldError("Authorization:", detail, hint)],
        {"WWW-Authenticate": "Bearer"},
    )


_notes: dict[UUID, asyncio.Task[None]] = {}


def _note_use(store: Store, shop: UUID, record: keys.KeyRecord) -> None:
    """Note the key's use beside the request, once a minute; failing at it hurts nobody."""
    if record.id in _notes or not keys.use_is_due(record, datetime.now(UTC)):
        return

    def work(scope: ShopScope) -> None:
        keys.note_use(scope, record.id)

    task = asyncio.create_task(store.write(shop, work))
    _notes[record.id] = task
    task.add_done_callback(lambda done: _noted(record.id, done))


def _noted(key: UUID, task: asyncio.Task[None]) -> None:
    _notes.pop(key, None)
    if not task.cancelled():
        task.exception()  # looked at, so that asyncio does not report it
