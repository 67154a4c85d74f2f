"""Signatures of pushed events by Standard Webhooks: HMAC-SHA256 over `id.timestamp.body`."""

import base64
import hmac
from collections.abc import Sequence
from hashlib import sha256


def signed_headers(secrets: Sequence[str], id: str, timestamp: int, body: bytes) -> dict[str, str]:
    """The three headers of a message, signed with each secret (`whsec_` and base64)."""
    signatures = " ".join(_signature(secret, id, timestamp, body) for secret in secrets)
    return {
        "webhook-id": id,
        "webhook-timestamp": str(timestamp),
        "webhook-signature": signatures,
    }


def _signature(secret: str, id: str, timestamp: int, body: bytes) -> str:
    key = base64.b64decode(secret.removeprefix("whsec_"))
    message = f"{id}.{timestamp}.".encode() + body
    return "v1," + base64.b64encode(hmac.new(key, message, sha256).digest()).decode()
