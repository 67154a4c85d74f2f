"""Which key an operation needs: declared with the handler, told in the document, held at the door.

A handler of stored work is declared with `**needs("read")`. Its request then has a caller, and
`storing.read`, `write` and `once` look at the key in the same unit of work.
"""

from typing import Any, cast

from litestar.connection import ASGIConnection

from service.api.callers import Caller, FailedAttempts, caller_from
from service.api.storing import AnyRequest, told_as_problems
from service.api.vouched import Vouched
from service.contract.asgi import Scope, headers_of
from service.contract.problem_catalogue import (
    FORBIDDEN,
    RATE_LIMITED,
    UNAUTHORISED,
    UNAVAILABLE,
    ProblemKind,
)
from service.store.database import Store
from service.store.keys import KeyRecord

Connection = ASGIConnection[Any, Any, Any, Any]

SECURITY: list[dict[str, list[str]]] = [{"ShopKey": []}]


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
        "before_request": admit,
        "security": SECURITY,
        "opt": {
            "scope": scope,
            "problems": kinds,
            "headers": headers,
            "requires": requires,
            **more,
        },
    }


# Hooks before the request rather than guards: for each guard Litestar copies the whole handler.


async def admit(request: AnyRequest) -> None:
    """Refuse a request that names no key; the key itself is looked at with the work."""
    _name_caller(request, request.route_handler.opt["scope"])


async def admit_computing(request: AnyRequest) -> None:
    """Hook of a whole application whose computing is not open: a key with `compute` is needed.

    Handlers with a scope of their own and what is no resource of a version (health, document,
    problem pages) are not its business.
    """
    scope = request.scope
    if "scope" in request.route_handler.opt or not scope["path"].startswith("/v1/"):
        return
    sent = headers_of(cast(Scope, scope)).get(b"authorization", b"")
    vouched: Vouched = request.app.state["vouched"]
    caller = vouched.get(sent)
    if caller is None:
        caller = _name_caller(request, "compute")
        sight = vouched.before_look(caller.token)
        vouched.add(sent, caller, await _look_at(request, caller), sight)
    scope["caller"] = caller  # type: ignore[typeddict-unknown-key]


async def brings_key(request: Any) -> bool:
    """Whether a request to an open operation comes with a key that may read; a bad one is 401."""
    if "authorization" not in request.headers or "store" not in request.app.state:
        return False
    await _look_at(request, _name_caller(request, "read"))
    return True


async def _look_at(connection: Connection, caller: Caller) -> KeyRecord:
    store: Store = connection.app.state["store"]
    with told_as_problems():
        return await store.read(caller.shop, caller.prove)


def _name_caller(connection: Connection, scope: str) -> Caller:
    failed: FailedAttempts = connection.app.state["failed_attempts"]
    address = (connection.scope.get("client") or ("", 0))[0]
    caller = caller_from(connection.scope["headers"], scope, address, failed)
    connection.scope["caller"] = caller  # type: ignore[typeddict-unknown-key]
    return caller
