"""One POST to an address that a stranger chose, so that it reaches nothing it should not.

The name is looked up once, every address it has must be public, and the connection goes to the
very address that was looked at: a name that changes its answer in between (DNS rebinding) gains
nothing. Redirects are not followed. TLS certificates are checked against the name.
"""

import asyncio
import ipaddress
import socket
import ssl
from collections.abc import Mapping
from functools import cache
from typing import NamedTuple
from urllib.parse import urlsplit

TIMEOUT = 15.0
"""Seconds for the whole exchange."""
LONGEST_HEAD = 16 * 1024


_OTHERS = "Only the operator of the service can allow others (AXLEWRIGHT_WEBHOOKS_PRIVATE)."


class RefusedAddressError(ValueError):
    """An address that nothing is sent to; the text says why, `hint` which would be called."""

    def __init__(self, reason: str, hint: str = "") -> None:
        super().__init__(reason)
        self.hint = hint


class Callee(NamedTuple):
    """What a URL says of whom to call, and what to ask for."""

    secure: bool
    host: str
    port: int
    netloc: str
    target: str
    """Path and query."""


def callee(url: str, *, allow_private: bool = False) -> Callee:
    """Whom a URL calls, without a look-up of names.

    Raises RefusedAddressError for one that `post` would never call, whatever its host name means:
    plain http, a user or a password, no host, no such port, an address that is not public.
    """
    try:
        parts = urlsplit(url)
        port = parts.port
    except ValueError:
        hint = "Write it like https://shop.example:8443/hook, with a port of 1 to 65535."
        raise RefusedAddressError("the address or its port cannot be read", hint) from None
    secure = parts.scheme == "https"
    if not secure and not allow_private:
        raise RefusedAddressError("only https is called", f"Begin with https://. {_OTHERS}")
    if parts.username is not None or parts.hostname is None:
        hint = "Leave out user and password, as in https://shop.example/hook; calls are signed."
        raise RefusedAddressError("the address has no plain host name", hint)
    if port == 0:
        raise RefusedAddressError("nothing listens on port 0", "Use a port of 1 to 65535.")
    _require_callable(parts.hostname, allow_private)
    target = (parts.path or "/") + (f"?{parts.query}" if parts.query else "")
    return Callee(secure, parts.hostname, port or (443 if secure else 80), parts.netloc, target)


def _require_callable(host: str, allow_private: bool) -> None:
    """Refuse a host that is no name, or an address in any spelling and not public."""
    hint = "Write it like https://shop.example/hook."
    try:
        found = socket.getaddrinfo(host, None, flags=socket.AI_NUMERICHOST)
    except UnicodeError:
        raise RefusedAddressError("the host cannot be a name", hint) from None
    except OSError:
        # A name, or an address with a zone that this machine does not know.
        if ":" in host or "%" in host:
            raise RefusedAddressError("the host cannot be a name", hint) from None
        return  # what a name means is looked at when it is called
    _require_public(host, [str(entry[4][0]) for entry in found], allow_private)


def _require_public(host: str, addresses: list[str], allow_private: bool) -> None:
    if not allow_private and not all(map(is_public, addresses)):
        hint = f"Give one that the internet reaches. {_OTHERS}"
        raise RefusedAddressError(f"{host} is not at a public address", hint)


async def post(
    url: str, body: bytes, headers: Mapping[str, str], *, allow_private: bool = False
) -> int:
    """Send the body and return the status of the answer.

    Raises RefusedAddressError for an address that must not be called, OSError (TimeoutError among
    them) where nothing answers, ValueError where the answer is not HTTP. `allow_private` lets
    private and loopback addresses and plain http through, for an operator's own network.
    """
    async with asyncio.timeout(TIMEOUT):
        called = callee(url, allow_private=allow_private)
        address = await _address_of(called, allow_private)
        reader, writer = await asyncio.open_connection(
            address,
            called.port,
            ssl=_tls() if called.secure else None,
            server_hostname=called.host if called.secure else None,
            limit=LONGEST_HEAD,
        )
        try:
            writer.write(_head(called, len(body), headers) + body)
            await writer.drain()
            return _status(await reader.readline())
        finally:
            writer.close()


async def _address_of(called: Callee, allow_private: bool) -> str:
    loop = asyncio.get_running_loop()
    found = await loop.getaddrinfo(called.host, called.port, type=socket.SOCK_STREAM)
    addresses = [str(entry[4][0]) for entry in found]
    _require_public(called.host, addresses, allow_private)
    return addresses[0]


def is_public(address: str) -> bool:
    """Whether an IP address is one of the internet at large, also inside a mapped one."""
    ip = ipaddress.ip_address(address.partition("%")[0])
    if isinstance(ip, ipaddress.IPv6Address):
        inner = ip.ipv4_mapped or ip.sixtofour or (ip.teredo and ip.teredo[1])
        if inner:
            return is_public(str(inner))
        if ip in _NAT64:
            return is_public(str(ipaddress.IPv4Address(int(ip) & 0xFFFFFFFF)))
        if ip not in _GLOBAL_UNICAST:
            return False
    return ip.is_global and not ip.is_multicast


_NAT64 = ipaddress.ip_network("64:ff9b::/96")
_GLOBAL_UNICAST = ipaddress.ip_network("2000::/3")
"""All that IANA gives out (RFC 4291, 2.4); `is_global` is also true of site-local fec0::/10."""


@cache
def _tls() -> ssl.SSLContext:
    return ssl.create_default_context()


def _head(called: Callee, length: int, headers: Mapping[str, str]) -> bytes:
    lines = [
        f"POST {called.target} HTTP/1.1",
        f"Host: {called.netloc}",
        "Connection: close",
        "Content-Type: application/json",
        f"Content-Length: {length}",
        *[f"{name}: {value}" for name, value in headers.items()],
    ]
    if any("\r" in line or "\n" in line for line in lines):
        raise RefusedAddressError("a line break stands in a header")
    return ("\r\n".join(lines) + "\r\n\r\n").encode("ascii")


def _status(line: bytes) -> int:
    parts = line.split(b" ", 2)
    if len(parts) < 2 or not parts[0].startswith(b"HTTP/1.") or not parts[1].isdigit():
        raise ValueError("the answer is not HTTP/1.1")
    return int(parts[1])
