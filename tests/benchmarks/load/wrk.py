"""Runs wrk against a server, and says what of the machine it left to it."""

import json
import resource
import shutil
import subprocess
import time
from collections.abc import Sequence
from pathlib import Path
from typing import NamedTuple

from benchmarks.load.processes import Served, busy_seconds

HERE = Path(__file__).resolve().parent
CONNECTIONS = 16


class Run(NamedTuple):
    """One run: requests in a second, answers of 400 and more, broken connections, milliseconds,
    and cores that were busy with the server, with wrk and with anything else."""

    rate: float
    refused: int
    broken: int
    p50: float
    p99: float
    server_cores: float
    wrk_cores: float
    other_cores: float

    @property
    def per_cpu(self) -> float:
        """Requests that the server answers with one second of processor time."""
        return self.rate / self.server_cores


def is_there() -> bool:
    return shutil.which("wrk") is not None


def run(
    servers: Sequence[Served], script: str, url: str, arguments: list[str], seconds: float
) -> Run:
    """Ask an address that leads to these servers for some seconds."""
    command = ["wrk", "-t1", f"-c{CONNECTIONS}", f"-d{max(1, round(seconds))}s", "--timeout", "30s"]
    command += ["-s", str(HERE / script), url, "--", *arguments]
    own, all_of_it = _cpu(servers), busy_seconds()
    children = _children()
    begun = time.perf_counter()
    done = subprocess.run(command, capture_output=True, text=True, check=True)
    wall = time.perf_counter() - begun
    own, all_of_it = _cpu(servers) - own, busy_seconds() - all_of_it
    wrk = _children() - children
    told = [line for line in done.stdout.splitlines() if line.startswith("JSON ")]
    counted = json.loads(told[0].removeprefix("JSON "))
    return Run(
        counted["requests"] / (counted["microseconds"] / 1e6),
        counted["refused"],
        counted["broken"],
        counted["p50"] / 1e3,
        counted["p99"] / 1e3,
        own / wall,
        wrk / wall,
        max(0.0, all_of_it - own - wrk) / wall,
    )


def _cpu(servers: Sequence[Served]) -> float:
    return sum(one.cpu_seconds() for one in servers)


def _children() -> float:
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime
