"""`/v1/keys`: the keys of a shop, made, replaced and ended.

Making a key takes no idempotency key: its answer holds a secret, and a kept answer would hold it
too. Where an answer was lost, revoke the key that the list shows and make another.
"""

from datetime import UTC, datetime, timedelta
from typing import Annotated

from litestar import delete, get, post
from litestar.params import Body

from service.api.access import needs
from service.api.storing import AnyRequest, ThingId, read, write
from service.contract.keys import (
    KeyList,
    KeyRequest,
    KeyScope,
    NewKey,
    RotationRequest,
    StoredKey,
)
from service.contract.problem_catalogue import CONFLICT, CONTRACT_BROKEN, NOT_FOUND
from service.contract.problems import FieldError, ProblemError
from service.contract.replies import Reply
from service.store import keys
from service.store.keys import KeyRecord


@post("/v1/keys", summary="Make a key", **needs("admin", headers=("Location",)))
async def create_key(request: AnyRequest, data: Annotated[KeyRequest, Body()]) -> Reply[NewKey]:
    """Make a key of the shop; its token is answered here and never again."""
    scopes = [scope.value for scope in data.scopes]
    ends = _to_come(data.expires_at)
    record, token = await write(request, lambda scope: keys.create(scope, data.name, scopes, ends))
    return _new(record, token)


@get("/v1/keys", summary="List the keys", **needs("admin"))
async def list_keys(request: AnyRequest) -> KeyList:
    """The shop's keys without their secrets, oldest first."""
    found = await read(request, keys.all_keys)
    return KeyList(items=[shown(record) for record in found])


@get("/v1/keys/{id:uuid}", summary="Read a key", **needs("admin"))
async def get_key(request: AnyRequest, id: ThingId) -> StoredKey:
    """A key without its secret; one that was revoked is gone from here and stays in the list."""
    record = await read(request, lambda scope: keys.get(scope, id))
    if record.revoked_at is not None:
        raise ProblemError(NOT_FOUND, "The key was revoked.")
    return shown(record)


@post(
    "/v1/keys/{id:uuid}/rotations",
    summary="Replace a key",
    **needs("admin", CONFLICT, headers=("Location",)),
)
async def rotate_key(
    request: AnyRequest, id: ThingId, data: Annotated[RotationRequest, Body()]
) -> Reply[NewKey]:
    """Make a key of the same name and scopes; the old one ends after the overlap.

    Where the answer was lost, ask again and revoke the key of the lost answer, which the list
    shows. Once the old key has ended, the refusal names the key that has replaced it.
    """
    overlap = timedelta(minutes=data.overlap_minutes)
    ends = _to_come(data.expires_at)
    record, token = await write(request, lambda scope: keys.rotate(scope, id, overlap, ends))
    request.app.state["vouched"].forget()
    return _new(record, token)


@delete("/v1/keys/{id:uuid}", summary="Revoke a key", **needs("admin"))
async def revoke_key(request: AnyRequest, id: ThingId) -> None:
    """End a key at once, for good; repeating it changes nothing."""
    await write(request, lambda scope: keys.revoke(scope, id))
    request.app.state["vouched"].forget()


def _to_come(expires_at: datetime | None) -> datetime | None:
    """The end that was asked for; one that is past makes no key."""
    if expires_at is not None and expires_at <= datetime.now(UTC):
        detail = "The key would have ended before it was made."
        hint = "Give a time that is to come, or leave it out."
        kind = CONTRACT_BROKEN.type
        raise ProblemError.of_broken_rules([FieldError("#/expires_at", detail, hint, kind)])
    return expires_at


def _new(record: KeyRecord, token: str) -> Reply[NewKey]:
    headers = {"Location": f"/v1/keys/{record.id}", "Cache-Control": "no-store"}
    content = NewKey(key=shown(record), token=token)
    return Reply(content, status_code=201, headers=headers)


def shown(record: KeyRecord) -> StoredKey:
    """A key as it is answered."""
    return StoredKey(
        id=record.id,
        name=record.name,
        prefix=record.prefix,
        scopes=[KeyScope(scope) for scope in record.scopes.split()],
        created_at=record.created_at,
        expires_at=record.expires_at,
        revoked_at=record.revoked_at,
        last_used_at=record.last_used_at,
    )
