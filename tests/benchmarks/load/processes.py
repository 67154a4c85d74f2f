"""Servers in processes of their own, and what the machine tells of them."""

import os
import signal
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Iterable, Sequence
from pathlib import Path

ROOT = Path(__file__).resolve().parents[3]
TICKS = os.sysconf("SC_CLK_TCK")
QUIET = "1000000000/60"
"""A rate that is counted and never reached."""

NOT_KEPT = ("AXLEWRIGHT_", "PYTHONDONTWRITEBYTECODE")
"""Beginnings of variables that a server is not given; byte code is kept as an installation does."""


def free_port() -> int:
    with socket.socket() as one:
        one.bind(("127.0.0.1", 0))
        return int(one.getsockname()[1])


class Served:
    """A server under a name; its output goes to a file in a folder, as in production to a pipe."""

    def __init__(
        self,
        name: str,
        command: Sequence[str],
        base: str,
        folder: Path,
        alive: str = "/health/ready",
        **variables: str,
    ) -> None:
        self.name = name
        self.base = base
        self._command = list(command)
        self._alive = base + alive
        self._output = folder / f"{name}.log"
        kept = {k: v for k, v in os.environ.items() if not k.startswith(NOT_KEPT)}
        paths = os.pathsep.join([str(ROOT), str(ROOT / "tests")])
        self._environment = {**kept, "PYTHONPATH": paths, **variables}
        self.seconds_to_answer = 0.0
        self.process: subprocess.Popen[bytes]

    def move_to(self, prefix: Sequence[str], address: str, port: int) -> None:
        """Have it started by another command and listen at another address."""
        where = ["--host", address, "--port", str(port)]
        self._command = [*prefix, *self._command[: self._command.index("--port")], *where]
        alive = self._alive.removeprefix(self.base)
        self.base = f"http://{address}:{port}"
        self._alive = self.base + alive

    def start(self) -> "Served":
        """Start it and wait for its first answer, whatever that says."""
        begun = time.perf_counter()
        with self._output.open("ab") as output:
            self.process = subprocess.Popen(
                self._command,
                cwd=ROOT,
                env=self._environment,
                stdout=output,
                stderr=output,
                start_new_session=True,
            )
        while not self._answers():
            if self.process.poll() is not None or time.perf_counter() - begun > 120:
                raise RuntimeError(
                    f"{self.name} does not serve: {self._output.read_text()[-2000:]}"
                )
            time.sleep(0.005)
        self.seconds_to_answer = time.perf_counter() - begun
        return self

    def _answers(self) -> bool:
        try:
            urllib.request.urlopen(self._alive, timeout=5).close()
        except urllib.error.HTTPError as error:
            return error.code != 503
        except OSError:
            return False
        return True

    def signal(self, number: int) -> None:
        """Send a signal to all of its processes."""
        os.killpg(self.process.pid, number)

    def stop(self) -> None:
        if self.process.poll() is None:
            self.signal(signal.SIGTERM)
        try:
            self.process.wait(30)
        except subprocess.TimeoutExpired:
            self.signal(signal.SIGKILL)
            self.process.wait()

    def cpu_seconds(self) -> float:
        """Processor time of all of its processes up to now."""
        return sum(_cpu_ticks(pid) for pid in descendants(self.process.pid)) / TICKS

    def resident_megabytes(self) -> list[float]:
        """Resident memory of each of its processes, in units of 1,000,000 bytes."""
        return [_resident(pid) / 1e6 for pid in descendants(self.process.pid)]


def service(name: str, folder: Path, url: str, **variables: str) -> Served:
    """Axlewright on a free port of this machine with every setting of production on.

    Keys are asked for, both limits count (and are never reached), each request writes its line and
    is counted for /metrics.
    """
    port = free_port()
    settings = {
        "AXLEWRIGHT_DATABASE_URL": url,
        "AXLEWRIGHT_COMPUTE_OPEN": "false",
        "AXLEWRIGHT_RATE_PER_KEY": QUIET,
        "AXLEWRIGHT_RATE_PER_ADDRESS": QUIET,
        **variables,
    }
    command = [sys.executable, "-m", "service", "serve", "--port", str(port)]
    return Served(name, command, f"http://127.0.0.1:{port}", folder, **settings)


def uvicorn(name: str, python: str, application: str, folder: Path, alive: str) -> Served:
    """Another application on the same server, event loop and parser."""
    port = free_port()
    command = [python, "-m", "uvicorn", application, "--port", str(port), "--loop", "uvloop"]
    command += ["--http", "httptools", "--no-access-log", "--log-level", "warning"]
    return Served(name, command, f"http://127.0.0.1:{port}", folder, alive)


def stopped(servers: Iterable[Served]) -> None:
    for one in servers:
        one.stop()


def descendants(pid: int) -> list[int]:
    """A process and all that come of it, those that are there."""
    found = [pid]
    for thread in _listed(f"/proc/{pid}/task"):
        for child in _text(f"/proc/{pid}/task/{thread}/children").split():
            found += descendants(int(child))
    return found


def _listed(path: str) -> list[str]:
    try:
        return os.listdir(path)
    except OSError:
        return []


def _text(path: str) -> str:
    try:
        return Path(path).read_text()
    except OSError:
        return ""


def _cpu_ticks(pid: int) -> int:
    fields = _text(f"/proc/{pid}/stat").rpartition(")")[2].split()
    return int(fields[11]) + int(fields[12]) if fields else 0


def _resident(pid: int) -> int:
    for line in _text(f"/proc/{pid}/status").splitlines():
        if line.startswith("VmRSS:"):
            return int(line.split()[1]) * 1024
    return 0


def busy_seconds() -> float:
    """Processor time that the whole machine has spent up to now, on all cores together."""
    user, nice, system, _idle, _wait, irq, softirq, *_ = map(
        int, Path("/proc/stat").read_text().split("\n", 1)[0].split()[1:]
    )
    return (user + nice + system + irq + softirq) / TICKS
