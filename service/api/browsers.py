"""What browsers are told: not to guess, not to frame, not to keep, and which pages may call.

The service is called by programs, so everything a browser could do with an answer is shut off; a
handler that serves pages sets its own `Content-Security-Policy` instead.
"""

from collections.abc import Iterable, Mapping

from service.api.rates import Headers

ALWAYS: Headers = (
    (b"x-content-type-options", b"nosniff"),
    (b"content-security-policy", b"default-src 'none'; frame-ancestors 'none'"),
)
OVER_TLS: Headers = ((b"strict-transport-security", b"max-age=31536000"),)
OF_A_SHOP: Headers = ((b"cache-control", b"no-store"),)

_ASKED = (
    b"authorization, content-type, idempotency-key, if-match, if-none-match, request-id, "
    b"traceparent, tracestate"
)
_TOLD = (
    b"deprecation, etag, idempotent-replayed, link, location, ratelimit, ratelimit-policy, "
    b"request-id, retry-after, sunset, traceresponse"
)


class CrossOrigin:
    """CORS: lets pages of the configured origins call with a key; cookies are never used."""

    def __init__(self, origins: Iterable[str]) -> None:
        self._origins = frozenset(origin.rstrip("/").lower().encode() for origin in origins)

    def __bool__(self) -> bool:
        return bool(self._origins)

    def headers(self, origin: bytes | None) -> Headers:
        """What an answer to a page of this origin carries; nothing for a stranger or for none.

        That it depends on the origin is said in any case, for whoever keeps answers.
        """
        if origin is None:
            return ((b"vary", b"origin"),)
        if b"*" in self._origins:
            allowed = b"*"
        elif origin.lower() in self._origins:
            allowed = origin
        else:
            return ((b"vary", b"origin"),)
        return (
            (b"access-control-allow-origin", allowed),
            (b"access-control-expose-headers", _TOLD),
            (b"vary", b"origin"),
        )


def is_preflight(headers: Mapping[bytes, bytes]) -> bool:
    """Whether an OPTIONS request is a browser's, which asks what it may ask."""
    return b"access-control-request-method" in headers


def allowed_by_preflight(methods: Iterable[str]) -> list[tuple[bytes, bytes]]:
    """What a browser may send to an address that takes these methods."""
    return [
        (b"access-control-allow-methods", ", ".join(methods).encode()),
        (b"access-control-allow-headers", _ASKED),
        (b"access-control-max-age", b"7200"),
    ]
