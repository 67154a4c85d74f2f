"""API keys: shown once, kept as a hash, found by what the key itself says of shop and number.

A token is `axw_SHOP.KEY.SECRET` in URL-safe base64: 16 bytes, 16 bytes and 32 random bytes. As it
names its shop, checking it is one look at a primary key and needs no index across shops. SHA-256
without stretching is enough for a secret of 256 random bits.
"""

import base64
import binascii
import hmac
import secrets
from datetime import datetime, timedelta
from functools import lru_cache
from hashlib import sha256
from typing import NamedTuple
from uuid import UUID

import msgspec
import sqlalchemy as sa

from service.store.binding import of_shop
from service.store.errors import Conflict, NotFound
from service.store.ids import new_id
from service.store.scope import ShopScope
from service.store.tables import api_keys

SCOPES = ("compute", "read", "write", "admin")
_PREFIX = "axw_"
_USE_NOTED = timedelta(minutes=1)
_MINUTE = timedelta(minutes=1)


class KeyRecord(msgspec.Struct):
    """A row of `api_keys`; `scopes` is a list parted by blanks."""

    id: UUID
    name: str
    prefix: str
    secret_hash: bytes
    scopes: str
    created_at: datetime
    expires_at: datetime | None
    revoked_at: datetime | None
    last_used_at: datetime | None


class Token(NamedTuple):
    """What a token says."""

    shop: UUID
    key: UUID
    secret: bytes


_COLUMNS = [api_keys.c[name] for name in KeyRecord.__struct_fields__]
_ALL = of_shop(sa.select(*_COLUMNS).order_by(api_keys.c.created_at, api_keys.c.id).limit(1000))
_END = of_shop(
    sa.update(api_keys)
    .where(api_keys.c.id == sa.bindparam("which"), api_keys.c.revoked_at.is_(None))
    .values(revoked_at=sa.bindparam("new_revoked_at"))
)
_EXPIRE = of_shop(
    sa.update(api_keys)
    .where(
        api_keys.c.id == sa.bindparam("which"),
        sa.or_(
            api_keys.c.expires_at.is_(None),
            api_keys.c.expires_at > sa.bindparam("new_expires_at"),
        ),
    )
    .values(expires_at=sa.bindparam("new_expires_at"))
)
_ALIKE = of_shop(
    sa.select(*_COLUMNS)
    .where(
        api_keys.c.name == sa.bindparam("name"),
        api_keys.c.scopes == sa.bindparam("scopes"),
        api_keys.c.created_at > sa.bindparam("made"),
        api_keys.c.created_at <= sa.bindparam("end"),
    )
    .order_by(api_keys.c.created_at, api_keys.c.id)
    .limit(1000)
)
_USED = of_shop(
    sa.update(api_keys)
    .where(api_keys.c.id == sa.bindparam("which"))
    .values(last_used_at=sa.bindparam("new_last_used_at"))
)


@lru_cache(maxsize=10_000)
def read_token(text: str) -> Token | None:
    """What a token says, without having checked any of it; None if it is no token."""
    parts = text.removeprefix(_PREFIX).split(".")
    if not text.startswith(_PREFIX) or len(parts) != 3:
        return None
    try:
        shop, key, secret = map(_decoded, parts)
    except (binascii.Error, ValueError):
        return None
    if (len(shop), len(key), len(secret)) != (16, 16, 32):
        return None
    return Token(UUID(bytes=shop), UUID(bytes=key), secret)


def _decoded(part: str) -> bytes:
    return base64.b64decode(part + "=" * (-len(part) % 4), b"-_", validate=True)


def _write_token(token: Token) -> str:
    parts = (token.shop.bytes, token.key.bytes, token.secret)
    texts = (base64.urlsafe_b64encode(part).decode().rstrip("=") for part in parts)
    return _PREFIX + ".".join(texts)


def create(
    scope: ShopScope, name: str, scopes: list[str], expires_at: datetime | None
) -> tuple[KeyRecord, str]:
    """Make a key; the token is returned here and can never be read again."""
    unknown = [scope_name for scope_name in scopes if scope_name not in SCOPES]
    if unknown or not scopes:
        raise ValueError(f"scopes are {', '.join(SCOPES)}; got {', '.join(unknown) or 'none'}")
    token = Token(scope.shop, new_id(), secrets.token_bytes(32))
    text = _write_token(token)
    record = KeyRecord(
        id=token.key,
        name=name,
        prefix=_PREFIX + text.split(".")[1][-8:],
        secret_hash=sha256(token.secret).digest(),
        scopes=" ".join(known for known in SCOPES if known in scopes),
        created_at=scope.now,
        expires_at=expires_at,
        revoked_at=None,
        last_used_at=None,
    )
    scope.insert_record(api_keys, record)
    return record, text


def check(scope: ShopScope, token: Token) -> KeyRecord | None:
    """The key that the token proves, if it is neither revoked nor expired.

    The comparison takes the same time wherever the secrets differ, and is made for an unknown
    key too.
    """
    found = scope.find(KeyRecord, api_keys, id=token.key)
    kept = found.secret_hash if found is not None else bytes(32)
    same = hmac.compare_digest(kept, sha256(token.secret).digest())
    if found is None or not same or found.revoked_at is not None or ended(found, scope.now):
        return None
    return found


def use_is_due(record: KeyRecord, now: datetime) -> bool:
    """Whether the last use is to be noted again; it is kept to the minute, to spare writes."""
    return record.last_used_at is None or now - record.last_used_at >= _USE_NOTED


def note_use(scope: ShopScope, id: UUID) -> None:
    """Note that the key was used now."""
    scope.run(_USED, which=id, new_last_used_at=scope.now)


def all_keys(scope: ShopScope) -> list[KeyRecord]:
    """The shop's keys, oldest first, ended ones too."""
    return scope.rows(KeyRecord, _ALL)


def get(scope: ShopScope, id: UUID) -> KeyRecord:
    """The key with this id."""
    found = scope.find(KeyRecord, api_keys, id=id)
    if found is None:
        raise NotFound("key")
    return found


def revoke(scope: ShopScope, id: UUID) -> None:
    """End a key at once; repeating it changes nothing."""
    get(scope, id)
    scope.run(_END, which=id, new_revoked_at=scope.now)


def rotate(
    scope: ShopScope, id: UUID, overlap: timedelta, expires_at: datetime | None = None
) -> tuple[KeyRecord, str]:
    """A new key of the same name and scopes; the old one ends after `overlap`, whole minutes.

    Unless `expires_at` says otherwise the new one ends when the old one would have before it was
    first replaced, so that no replacing makes a key outlive what it was given, and a rotation that
    is asked for again does not end with the overlap of the first.
    """
    old = get(scope, id)
    newest = _newest(scope, old)
    if old.revoked_at is not None or ended(old, scope.now):
        raise Conflict(_over(old, newest, scope.now))
    scope.run(_EXPIRE, which=id, new_expires_at=scope.now + overlap)
    return create(scope, old.name, old.scopes.split(), expires_at or newest.expires_at)


def _newest(scope: ShopScope, record: KeyRecord) -> KeyRecord:
    """The key that now stands for this one: itself, or what replaced it and its successors."""
    while (successor := _successor(scope, record)) is not None:
        record = successor
    return record


def _successor(scope: ShopScope, record: KeyRecord) -> KeyRecord | None:
    """The key that was made when this one was replaced, if that is why it ends when it does.

    A rotation takes both times from one clock reading: the new key is made at a microsecond that
    the old one's end lies whole minutes after. An end that was chosen by hand meets that of a
    later key of the same name and scopes once in 60 million.
    """
    end = record.expires_at
    if end is None:
        return None
    sought = {"name": record.name, "scopes": record.scopes, "made": record.created_at, "end": end}
    found = scope.rows(KeyRecord, _ALIKE, **sought)
    return next((key for key in found if not (end - key.created_at) % _MINUTE), None)


def _over(old: KeyRecord, newest: KeyRecord, now: datetime) -> str:
    """That a key is past replacing, and how to go on."""
    if newest is old or newest.revoked_at is not None or ended(newest, now):
        return "The key has ended; make a new one."
    return (
        f"The key has ended; the key {newest.id} has replaced it. Replace that one if its token "
        "was lost."
    )


def ended(record: KeyRecord, now: datetime) -> bool:
    """Whether the key's own time is over."""
    return record.expires_at is not None and record.expires_at <= now
