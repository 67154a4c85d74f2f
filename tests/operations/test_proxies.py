"""Whose request it is: forwarding headers are believed of trusted proxies and of nobody else."""

from typing import Any

import pytest
from asking import scope_of

from service.api.addresses import Networks, TrustedProxies, household

TRUSTED = TrustedProxies(("10.0.0.0/8", "fd00::/8"))


def seen(peer: str, *forwarded: str, proto: str | None = None) -> tuple[str, str]:
    headers = [(b"x-forwarded-for", one.encode()) for one in forwarded]
    if proto:
        headers.append((b"x-forwarded-proto", proto.encode()))
    scope: dict[str, Any] = scope_of("GET", "/", headers)
    scope["client"] = (peer, 4711)
    TRUSTED.see_through(scope)
    return scope["client"][0], scope["scheme"]


@pytest.mark.parametrize(
    ("peer", "forwarded", "client"),
    [
        ("203.0.113.9", ("198.51.100.1",), "203.0.113.9"),
        ("10.0.0.2", (), "10.0.0.2"),
        ("10.0.0.2", ("198.51.100.1",), "198.51.100.1"),
        ("10.0.0.2", ("198.51.100.1, 10.0.0.7",), "198.51.100.1"),
        ("10.0.0.2", ("192.0.2.66, 198.51.100.1",), "198.51.100.1"),
        ("10.0.0.2", ("192.0.2.66", "198.51.100.1"), "198.51.100.1"),
        ("10.0.0.2", ("10.0.0.9, 10.0.0.8",), "10.0.0.9"),
        ("10.0.0.2", ("198.51.100.1:5555",), "198.51.100.1"),
        ("10.0.0.2", ("[2001:db8::7]:443",), "2001:db8::7"),
        ("10.0.0.2", ("not an address",), "unknown"),
        ("10.0.0.2", ("",), "unknown"),
        ("::ffff:10.0.0.2", ("198.51.100.1",), "198.51.100.1"),
        ("fd00::1", ("2001:db8::7",), "2001:db8::7"),
    ],
)
def test_the_client_is_the_nearest_stranger(
    peer: str, forwarded: tuple[str, ...], client: str
) -> None:
    assert seen(peer, *forwarded)[0] == client


def test_the_scheme_is_what_a_trusted_proxy_says() -> None:
    assert seen("10.0.0.2", proto="https")[1] == "https"
    assert seen("203.0.113.9", proto="https")[1] == "http"
    assert seen("10.0.0.2", proto="javascript")[1] == "http"


def test_no_networks_hold_nothing() -> None:
    assert not TrustedProxies(())
    assert not Networks(()).hold("127.0.0.1")


@pytest.mark.parametrize(
    ("address", "counted"),
    [
        ("203.0.113.9", b"203.0.113.9"),
        ("2001:db8:1:2:3:4:5:6", b"2001:db8:1:2::/64"),
        ("2001:db8:1:2:ffff::1%eth0", b"2001:db8:1:2::/64"),
        ("::ffff:203.0.113.9", b"203.0.113.9"),
        ("unknown", b"unknown"),
    ],
)
def test_an_ipv6_customer_counts_as_one_whatever_address_it_takes(
    address: str, counted: bytes
) -> None:
    assert household(address) == counted
