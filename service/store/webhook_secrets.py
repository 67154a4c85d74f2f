"""Secrets of webhook endpoints: the newest first, an old one until its overlap ends.

Unlike an API key a secret is needed to sign each message, so it is kept as it is.
"""

import base64
import secrets
from datetime import datetime, timedelta

import msgspec

PREFIX = "whsec_"
MOST = 4
"""Secrets that may be good at the same time."""


class Secret(msgspec.Struct):
    """One secret, `whsec_` and base64 of 32 bytes; `ends_at` is set once it was replaced."""

    text: str
    made_at: datetime
    ends_at: datetime | None = None


def begin(now: datetime) -> list[Secret]:
    """The first secret of an endpoint."""
    return [_new(now)]


def rotated(stored: bytes, now: datetime, overlap: timedelta) -> list[Secret]:
    """A new secret before those that are still good, which end after `overlap`."""
    old = good(stored, now)
    for secret in old:
        end = now + overlap
        secret.ends_at = end if secret.ends_at is None else min(secret.ends_at, end)
    return [_new(now), *old][:MOST]


def good(stored: bytes, now: datetime) -> list[Secret]:
    """The secrets that messages are signed with now."""
    found = msgspec.json.decode(stored, type=list[Secret])
    return [secret for secret in found if secret.ends_at is None or secret.ends_at > now]


def encode(held: list[Secret]) -> bytes:
    """The secrets as they are stored."""
    return msgspec.json.encode(held)


def _new(now: datetime) -> Secret:
    return Secret(PREFIX + base64.b64encode(secrets.token_bytes(32)).decode(), now)
