"""The solve endpoint beside bare Litestar handlers and beside FastAPI, in turns."""

import json
import subprocess
import sys
import urllib.request
import venv
from pathlib import Path
from statistics import median
from typing import Any, NamedTuple

from benchmarks.load import wrk
from benchmarks.load.processes import Served, service, stopped, uvicorn
from benchmarks.load.shop import make_shop, write_bodies

RIVAL = Path(__file__).resolve().parent / "rival"
SAME = 1e-9
"""Relative difference up to which two numbers are the same: the orders of summing differ."""


class Contender(NamedTuple):
    """A way to answer the sample request: a server, the path, and the key it asks for."""

    name: str
    server: Served
    path: str
    key: str


def compare(folder: Path, seconds: float, rounds: int, with_rival: bool) -> None:
    """Print requests a second of each, and the ratios of the service to the others."""
    url = f"sqlite:///{folder / 'compare.sqlite3'}"
    shop = make_shop(url)
    files = write_bodies(folder, shop)
    echo = uvicorn("echo", sys.executable, "benchmarks.load.echo:app", folder, "/")
    ours = service("service", folder, url)
    servers = [echo, ours]
    contenders = [
        Contender("(a) Litestar, decodes and encodes the same bodies", echo, "/answered", ""),
        Contender("(a') Litestar, echoes the request alone", echo, "/echoed", ""),
        Contender("(c) the service, every setting of production", ours, "/v1/solutions", shop.key),
    ]
    if with_rival:
        application = "benchmarks.load.rival.app:app"
        rival = uvicorn("rival", rival_python(folder), application, folder, "/openapi.json")
        servers.append(rival)
        contenders.insert(2, Contender("(b) FastAPI and pydantic", rival, "/v1/solutions", ""))
    try:
        for one in servers:
            one.start()
        body = Path(files["solve"]).read_bytes()
        answers = [asked(one, body) for one in contenders]
        for one, answer in zip(contenders, answers, strict=True):
            if one.path != "/echoed" and not same(answer, answers[-1]):
                raise AssertionError(f"{one.name} answers something else")
        told = measured(contenders, files["solve"], seconds, rounds)
    finally:
        stopped(servers)
    _print(contenders, told)


def measured(
    contenders: list[Contender], body: str, seconds: float, rounds: int
) -> list[list[wrk.Run]]:
    """The runs of each contender; they take turns, so that a busy moment meets all."""
    runs: list[list[wrk.Run]] = [[] for _ in contenders]
    for turn in range(rounds + 1):
        for one, of_one in zip(contenders, runs, strict=True):
            url = one.server.base + one.path
            run = wrk.run([one.server], "one.lua", url, [body, one.key], seconds)
            if run.refused or run.broken:
                raise AssertionError(f"{one.name} failed: {run}")
            if turn:  # the first turn warms up
                of_one.append(run)
    return runs


def _print(contenders: list[Contender], told: list[list[wrk.Run]]) -> None:
    ours = told[-1]
    print("\n| what answers | requests/s | of CPU second | p99 ms | service's rate to it |")
    print("|---|---|---|---|---|")
    for one, runs in zip(contenders, told, strict=True):
        pairs = list(zip(ours, runs, strict=True))
        by_wall = median(our.rate / run.rate for our, run in pairs)
        by_cpu = median(our.per_cpu / run.per_cpu for our, run in pairs)
        ratio = "" if runs is ours else f"{by_wall:.2f} (by CPU time {by_cpu:.2f})"
        print(
            f"| {one.name} | {median(run.rate for run in runs):.0f} "
            f"| {median(run.per_cpu for run in runs):.0f} "
            f"| {median(run.p99 for run in runs):.1f} | {ratio} |"
        )
    others = median(run.other_cores for runs in told for run in runs)
    print(f"\nMedians of {len(ours)} turns; others kept {others:.2f} cores busy meanwhile.")


def rival_python(folder: Path) -> str:
    """An environment with the rival's pinned packages over ours, made where there is none yet."""
    home = folder / "rival-venv"
    python = home / "bin" / "python"
    venv.create(home, with_pip=True)
    command = [str(python), "-m", "pip", "install", "--quiet", "--no-deps", "--only-binary=:all:"]
    command += ["-r", str(RIVAL / "requirements.txt")]
    subprocess.run(command, check=True, capture_output=True)
    where = "import site; print(site.getsitepackages()[0])"
    own = subprocess.check_output([str(python), "-c", where], text=True).strip()
    ours = subprocess.check_output([sys.executable, "-c", where], text=True).strip()
    (Path(own) / "ours.pth").write_text(ours + "\n")  # numpy, uvicorn and its parts: the same
    return str(python)


def asked(one: Contender, body: bytes) -> Any:
    """The answer to the sample request."""
    headers = {"Content-Type": "application/json", "Authorization": f"Bearer {one.key}"}
    request = urllib.request.Request(one.server.base + one.path, body, headers)
    with urllib.request.urlopen(request, timeout=30) as answer:
        return json.load(answer)


def same(one: Any, other: Any) -> bool:
    """Whether two JSON values are equal but for the last digits of numbers."""
    if isinstance(one, dict) and isinstance(other, dict):
        return one.keys() == other.keys() and all(same(one[k], other[k]) for k in one)
    if isinstance(one, list) and isinstance(other, list):
        return len(one) == len(other) and all(map(same, one, other))
    if isinstance(one, float) and isinstance(other, float):
        return abs(one - other) <= SAME * max(1.0, abs(one))
    return bool(one == other)
