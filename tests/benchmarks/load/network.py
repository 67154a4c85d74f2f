"""Replicas in network namespaces of their own behind nginx, as on machines of their own.

PostgreSQL is reached by its socket file, which is no matter of network namespaces. Where nginx is
missing or namespaces cannot be made, replicas listen on ports of this machine, or are asked
directly in turns; `Front.how` says what it was.
"""

import os
import shutil
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from benchmarks.load.processes import Served, free_port, service

PORT = 8410

NGINX = """
daemon off; worker_processes 1; pid nginx.pid; error_log error.log;
events {{ worker_connections 1024; }}
http {{
    access_log off;
    upstream replicas {{ {upstream} keepalive 64; }}
    server {{
        listen 127.0.0.1:{port};
        client_body_temp_path body; proxy_temp_path proxied;
        fastcgi_temp_path fastcgi; uwsgi_temp_path uwsgi; scgi_temp_path scgi;
        location / {{
            proxy_pass http://replicas;
            proxy_http_version 1.1;
            proxy_set_header Connection "";
            proxy_set_header Host $host;
            proxy_set_header X-Forwarded-For $remote_addr;
            proxy_connect_timeout 1s;
        }}
    }}
}}
"""


class Front:
    """Two replicas, and the addresses by which clients reach them."""

    def __init__(self, replicas: list[Served], addresses: list[str], how: str) -> None:
        self.replicas = replicas
        self.addresses = addresses
        self.how = how


@contextmanager
def front(folder: Path, url: str) -> Iterator[Front]:
    """Two replicas on one database, started; stopped and taken down at the end."""
    with namespaces() as spaces:
        replicas = [_replica(place, folder, url, spaces) for place in range(2)]
        try:
            for one in replicas:
                one.start()
            with _nginx(folder, replicas) as address:
                where = "network namespaces of their own" if spaces else "ports of one machine"
                before = "behind nginx" if address else "asked in turns, for there is no nginx"
                addresses = [address] if address else [one.base for one in replicas]
                yield Front(replicas, addresses, f"two replicas in {where}, {before}")
        finally:
            for one in replicas:
                one.stop()


def _replica(place: int, folder: Path, url: str, spaces: list[tuple[str, str]]) -> Served:
    served = service(f"replica-{place}", folder, url, AXLEWRIGHT_TRUSTED_PROXIES="10.0.0.0/8")
    if spaces:
        space, address = spaces[place]
        served.move_to(["ip", "netns", "exec", space], address, PORT)
    return served


@contextmanager
def _nginx(folder: Path, replicas: list[Served]) -> Iterator[str]:
    program = shutil.which("nginx") or shutil.which("nginx", path="/usr/sbin")
    if program is None:
        yield ""
        return
    port = free_port()
    upstream = "".join(
        f"server {one.base.removeprefix('http://')} max_fails=1 fail_timeout=2s; "
        for one in replicas
    )
    (folder / "nginx.conf").write_text(NGINX.format(upstream=upstream, port=port))
    command = [program, "-p", str(folder), "-c", "nginx.conf", "-e", "error.log"]
    proxy = Served("nginx", command, f"http://127.0.0.1:{port}", folder).start()
    try:
        yield proxy.base
    finally:
        proxy.stop()


@contextmanager
def namespaces() -> Iterator[list[tuple[str, str]]]:
    """Two network namespaces and their addresses, joined by a bridge; none where it may not be."""
    mark = f"{os.getpid() % 0x10000:x}"
    net = f"10.{64 + os.getpid() % 64}.{os.getpid() // 64 % 256}"
    bridge, spaces = f"axb{mark}", [(f"axn{mark}-{n}", f"{net}.{n + 2}") for n in range(2)]
    try:
        if not _joined(bridge, f"{net}.1", spaces):
            spaces = []
        yield spaces
    finally:
        for space, _ in spaces:
            _ip("netns", "delete", space)
        _ip("link", "delete", bridge)


def _joined(bridge: str, gateway: str, spaces: list[tuple[str, str]]) -> bool:
    steps = [("link", "add", bridge, "type", "bridge")]
    steps += [("address", "add", f"{gateway}/24", "dev", bridge), ("link", "set", bridge, "up")]
    for number, (space, address) in enumerate(spaces):
        end, inner = f"{bridge}v{number}", ("-n", space)
        steps += [
            ("netns", "add", space),
            ("link", "add", end, "type", "veth", "peer", "name", "eth0", "netns", space),
            ("link", "set", end, "master", bridge, "up"),
            (*inner, "address", "add", f"{address}/24", "dev", "eth0"),
            (*inner, "link", "set", "eth0", "up"),
            (*inner, "link", "set", "lo", "up"),
        ]
    return all(_ip(*step) for step in steps)


def _ip(*arguments: str) -> bool:
    program = shutil.which("ip") or shutil.which("ip", path="/usr/sbin:/sbin")
    if program is None or os.geteuid() != 0:
        return False
    return subprocess.run([program, *arguments], capture_output=True, check=False).returncode == 0
