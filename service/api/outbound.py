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
from urllib.parse import urlsplit

TIMEOUT = 15.0
"""Seconds for the whole exchange."""
LONGEST_HEAD = 16 * 1024


class RefusedAddressError(ValueError):
    """An address that nothing is sent to; the text says why."""


async def post(
    url: str, body: bytes, headers: Mapping[str, str], *, allow_private: bool = False
) -> int:
    """Send the body and return the status of the answer.

    Raises RefusedAddressError for an address that must not be called, OSError (TimeoutError among
    them) where nothing answers, ValueError where the answer is not HTTP. `allow_private` lets
    private and loopback addresses and plain http through, for an operator's own network.
    """
    async with asyncio.timeout(TIMEOUT):
        parts = urlsplit(url)
        if parts.scheme != "https" and not allow_private:
            raise RefusedAddressError("only https is called")
        if parts.username is not None or parts.hostname is None:
            raise RefusedAddressError("the address has no plain host name")
        secure = parts.scheme == "https"
        port = parts.port or (443 if secure else 80)
        address = await _address_of(parts.hostname, port, allow_private)
        reader, writer = await asyncio.open_connection(
            address,
            port,
            ssl=_tls() if secure else None,
            server_hostname=parts.hostname if secure else None,
            limit=LONGEST_HEAD,
        )
        try:
            target = (parts.path or "/") + (f"?{parts.query}" if parts.query else "")
            writer.write(_head(parts.netloc, target, len(body), headers) + body)
            await writer.drain()
            return _status(await reader.readline())
        finally:
            writer.close()


async def _address_of(host: str, port: int, allow_private: bool) -> str:
    loop = asyncio.get_running_loop()
    found = await loop.getaddrinfo(host, port, type=socket.SOCK_STREAM)
    addresses = [str(entry[4][0]) for entry in found]
    for address in addresses:
        if not allow_private and not is_public(address):
            raise RefusedAddressError(f"{host} is not at a public address")
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


def _head(netloc: str, target: str, length: int, headers: Mapping[str, str]) -> bytes:
    lines = [
        f"POST {target} HTTP/1.1",
        f"Host: {netloc}",
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
