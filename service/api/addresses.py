"""Whose request it is, by address: what a proxy says is believed only where the proxy is known."""

from collections.abc import Iterable
from functools import lru_cache
from ipaddress import IPv4Network, IPv6Address, IPv6Network, ip_address, ip_network

from service.contract.asgi import Scope

Network = IPv4Network | IPv6Network


class Networks:
    """A few networks, and whether an address lies in one; answers are remembered."""

    def __init__(self, networks: Iterable[str]) -> None:
        self._networks = [ip_network(one) for one in networks]
        self.hold = lru_cache(4096)(self._hold)

    def __bool__(self) -> bool:
        return bool(self._networks)

    def _hold(self, address: str) -> bool:
        try:
            ip = ip_address(address)
        except ValueError:
            return False
        if isinstance(ip, IPv6Address) and ip.ipv4_mapped:
            ip = ip.ipv4_mapped
        return any(ip in network for network in self._networks)


class TrustedProxies:
    """Puts the client that a trusted proxy speaks for in the proxy's place."""

    def __init__(self, networks: Iterable[str]) -> None:
        self._trusted = Networks(networks)

    def __bool__(self) -> bool:
        return bool(self._trusted)

    def see_through(self, scope: Scope) -> None:
        """Set client and scheme of a request from its forwarding headers, if its peer may say.

        Each proxy appends the address it was called from, so the list is read from its end: the
        first address that is no trusted proxy is the client, and what stands before it was
        written by a stranger.
        """
        client = scope.get("client")
        if client is None or not self._trusted.hold(client[0]):
            return
        forwarded = [v for name, v in scope["headers"] if name == b"x-forwarded-for"]
        if forwarded:
            listed = b",".join(forwarded).decode("latin-1").split(",")
            scope["client"] = (self._nearest_stranger([_bare(one) for one in listed]), 0)
        schemes = [v for name, v in scope["headers"] if name == b"x-forwarded-proto"]
        if schemes and schemes[-1] in (b"http", b"https"):
            scope["scheme"] = schemes[-1].decode()

    def _nearest_stranger(self, listed: list[str]) -> str:
        for address in reversed(listed):
            if not self._trusted.hold(address):
                return address if _readable(address) else "unknown"
        return listed[0]


def _bare(text: str) -> str:
    """An address without the port and brackets that some proxies add."""
    text = text.strip()
    if text.startswith("["):
        return text[1:].partition("]")[0]
    return text.partition(":")[0] if text.count(":") == 1 else text


def _readable(address: str) -> bool:
    try:
        ip_address(address)
    except ValueError:
        return False
    return True


@lru_cache(8192)
def household(address: str) -> bytes:
    """What counts as one address: an IPv6 customer has a whole /64 to choose from."""
    try:
        ip = ip_address(address.partition("%")[0])
    except ValueError:
        return address.encode("utf-8", "replace")[:100]
    if not isinstance(ip, IPv6Address):
        return address.encode()
    if ip.ipv4_mapped:
        return str(ip.ipv4_mapped).encode()
    return str(ip_network((int(ip) >> 64 << 64, 64))).encode()
