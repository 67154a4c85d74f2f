"""`/v1/keys`: who may ask in the shop's name, for what and until when."""

from enum import StrEnum
from typing import Annotated
from uuid import UUID

from msgspec import Meta

from service.contract.base import ClosedStruct, OpenStruct
from service.contract.texts import AwareTime, ShortText, refuse_no_utc


class KeyScope(StrEnum):
    """What a key allows: each scope by itself, none includes another."""

    COMPUTE = "compute"
    READ = "read"
    WRITE = "write"
    ADMIN = "admin"


class KeyRequest(ClosedStruct):
    """A key to be made."""

    name: ShortText
    """What uses the key."""
    scopes: Annotated[list[KeyScope], Meta(min_length=1, max_length=4)]
    expires_at: AwareTime | None = None
    """When the key ends; never, if left out."""

    def __post_init__(self) -> None:
        refuse_no_utc("expires_at", self.expires_at)


class RotationRequest(ClosedStruct):
    """How a key is replaced."""

    overlap_minutes: Annotated[int, Meta(ge=0, le=60 * 24 * 30)] = 60
    """How long the old key still works."""
    expires_at: AwareTime | None = None
    """When the new key ends; if left out, when the old one would have ended before it was first
    replaced."""

    def __post_init__(self) -> None:
        refuse_no_utc("expires_at", self.expires_at)


class StoredKey(OpenStruct):
    """A key without its secret."""

    id: UUID
    name: str
    prefix: str
    """The start of every token and the end of this key's number, to tell keys apart."""
    scopes: list[KeyScope]
    created_at: AwareTime
    expires_at: AwareTime | None
    revoked_at: AwareTime | None
    last_used_at: AwareTime | None
    """To the minute."""


class NewKey(OpenStruct):
    """A key with its token, which is shown this once and kept as a hash only."""

    key: StoredKey
    token: str
    """Send it as `Authorization: Bearer` with this text."""


class KeyList(OpenStruct):
    """The shop's keys, oldest first, ended ones too."""

    items: list[StoredKey]
