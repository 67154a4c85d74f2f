"""Answers kept for a day, so that a request sent again is answered again and not done again.

The answer is written in the transaction of what it tells of: both are there or neither is. Only
what was done is kept; a refusal changed nothing, so the same key may ask again.
"""

from datetime import datetime, timedelta

import msgspec
import sqlalchemy as sa

from service.store.binding import of_shop
from service.store.errors import Conflict
from service.store.scope import ShopScope
from service.store.tables import idempotency_keys

LIFE = timedelta(hours=24)
AT_ONCE = 500
"""Expired answers that one piece of work forgets, so that others need not wait for it long."""


class KeptAnswer(msgspec.Struct):
    """The answer to a request that was carried out."""

    key: str
    fingerprint: bytes
    status: int
    headers: bytes
    body: bytes
    expires_at: datetime


class KeyReused(Conflict):
    """The key came with another request before."""

    def __init__(self) -> None:
        super().__init__("This key was used with another request; take a new one.")


_SOME_EXPIRED = of_shop(
    sa.select(idempotency_keys.c.key)
    .where(idempotency_keys.c.expires_at <= sa.bindparam("now"))
    .order_by(idempotency_keys.c.expires_at)
    .limit(AT_ONCE)
)
_EXPIRED = of_shop(
    sa.delete(idempotency_keys).where(idempotency_keys.c.key.in_(_SOME_EXPIRED.statement))
)
_EXPIRED_KEY = of_shop(
    sa.delete(idempotency_keys).where(
        idempotency_keys.c.key == sa.bindparam("which"),
        idempotency_keys.c.expires_at <= sa.bindparam("now"),
    )
)


def kept_answer(scope: ShopScope, key: str, fingerprint: bytes) -> KeptAnswer | None:
    """The answer kept for this key; None if the request is new, KeyReused if it differs.

    `fingerprint` is a digest of the method, the path and the body.
    """
    found = scope.find(KeptAnswer, idempotency_keys, key=key)
    if found is None:
        return None
    if found.expires_at <= scope.now:
        scope.run(_EXPIRED_KEY, which=key, now=scope.now)
        return None
    if found.fingerprint != fingerprint:
        raise KeyReused
    return found


def keep_answer(
    scope: ShopScope, key: str, fingerprint: bytes, status: int, headers: bytes, body: bytes
) -> None:
    """Keep the answer for a day. An answer of 500 and above is not kept: it may come out better."""
    if status < 500:
        answer = KeptAnswer(key, fingerprint, status, headers, body, scope.now + LIFE)
        scope.insert_record(idempotency_keys, answer)


def forget_expired(scope: ShopScope) -> int:
    """Delete some of the shop's answers that are more than a day old; how many, 0 at the end."""
    return scope.run(_EXPIRED, now=scope.now)
