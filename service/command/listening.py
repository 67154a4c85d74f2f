"""The sockets that the server listens on."""

import socket

from service.setting_rules import SettingsError, fault
from service.settings import Settings

BACKLOG = 2048
"""Connections that the system holds for the server until it takes them."""


def listening(
    settings: Settings, *, shared: bool = False, port: int | None = None
) -> list[socket.socket]:
    """Bound sockets on every address of the host; SettingsError where it cannot be had.

    `shared` ones divide the connections of the port among the processes that hold one each: the
    system gives every connection to one of them (SO_REUSEPORT), which spreads many clients more
    evenly than processes that race for one socket.
    """
    wanted = settings.port if port is None else port
    try:
        found = socket.getaddrinfo(
            settings.host, wanted, type=socket.SOCK_STREAM, flags=socket.AI_PASSIVE
        )
    except OSError as error:
        raise SettingsError(fault("host", f"there is no such address: {error.strerror}")) from None
    bound: list[socket.socket] = []
    reason: OSError | None = None
    for family, kind, protocol, _, address in dict.fromkeys(found):
        if bound and wanted == 0:
            break  # a free port of one address need not be free on another
        try:
            bound.append(_bound(family, kind, protocol, address, shared=shared))
        except OSError as error:
            reason = error
    if not bound:
        why = reason.strerror if reason else "nothing to listen on"
        hint = f"cannot listen on {settings.host} port {wanted}: {why}"
        raise SettingsError(fault("port", hint))
    return bound


def _bound(
    family: int, kind: int, protocol: int, address: tuple[object, ...], *, shared: bool
) -> socket.socket:
    one = socket.socket(family, kind, protocol)
    try:
        one.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        if shared:
            one.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEPORT, 1)
        if family == socket.AF_INET6:
            one.setsockopt(socket.IPPROTO_IPV6, socket.IPV6_V6ONLY, 1)
        one.bind(address)
    except OSError:
        one.close()
        raise
    return one
