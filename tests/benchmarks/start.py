"""How long a start takes and how much memory: `python tests/benchmarks/start.py`.

The server is started in a process of its own, first on a file that is not there, then on the one
that was made. Printed are seconds of the wall clock and of the processor until it has answered
`/health/ready` and until it has solved the sample request, and its memory; beside them the same of
a Python that imports nothing but the libraries, in turns. Byte code is made before, as an
installation does.
"""

import os
import subprocess
import sys
import tempfile
import time
import urllib.request
from pathlib import Path
from statistics import median

ROOT = Path(__file__).resolve().parents[2]
BODY = (ROOT / "openapi" / "examples" / "solution-request.json").read_bytes()
LIBRARIES = "import litestar, sqlalchemy, numpy, uvicorn, msgspec"
PORT, TIMES = 8497, 5


def processor_seconds(process: int) -> float:
    """Time of the processor that a process has used, from /proc."""
    fields = Path(f"/proc/{process}/stat").read_text().rsplit(")", 1)[1].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def memory(process: int) -> float:
    """Resident memory in MB."""
    text = Path(f"/proc/{process}/status").read_text()
    return int(text.split("VmRSS:")[1].split()[0]) / 1024


def started(file: Path, environment: dict[str, str]) -> tuple[float, float, float, float]:
    """Wall seconds to ready and to solved, processor seconds, and MB."""
    given = {**environment, "AXLEWRIGHT_DATABASE_URL": f"sqlite:///{file}"}
    command = [sys.executable, "-m", "service", "serve", "--port", str(PORT)]
    begun = time.perf_counter()
    process = subprocess.Popen(command, env=given, cwd=ROOT, stdout=subprocess.DEVNULL)
    base = f"http://127.0.0.1:{PORT}"
    while True:
        try:
            urllib.request.urlopen(f"{base}/health/ready").close()
            break
        except OSError:
            if process.poll() is not None:
                sys.exit("the server stopped by itself")
            time.sleep(0.002)
    ready = time.perf_counter() - begun
    headers = {"Content-Type": "application/json"}
    urllib.request.urlopen(urllib.request.Request(f"{base}/v1/solutions", BODY, headers)).close()
    solved = time.perf_counter() - begun
    found = (ready, solved, processor_seconds(process.pid), memory(process.pid))
    process.terminate()
    process.wait(60)
    return found


def imported(environment: dict[str, str]) -> float:
    """Wall seconds of a Python that imports the libraries and ends."""
    begun = time.perf_counter()
    subprocess.run([sys.executable, "-c", LIBRARIES], env=environment, check=True)
    return time.perf_counter() - begun


def main() -> None:
    """Print the medians of a few starts."""
    with tempfile.TemporaryDirectory() as folder:
        cache = {"PYTHONPYCACHEPREFIX": folder, "PYTHONPATH": str(ROOT)}
        environment = {**os.environ, **cache}
        environment.pop("PYTHONDONTWRITEBYTECODE", None)
        file = Path(folder) / "start.sqlite3"
        started(file, environment)  # makes the byte code
        rows: dict[str, list[tuple[float, float, float, float]]] = {"fresh": [], "again": []}
        libraries = []
        for _ in range(TIMES):
            for each in Path(folder).glob("start.sqlite3*"):
                each.unlink()
            rows["fresh"].append(started(file, environment))
            rows["again"].append(started(file, environment))
            libraries.append(imported(environment))
    for name, found in rows.items():
        ready, solved, cpu, megabytes = (median(column) for column in zip(*found, strict=True))
        print(
            f"{name}: ready {ready:.2f} s, solved {solved:.2f} s, "
            f"processor {cpu:.2f} s, {megabytes:.0f} MB"
        )
    print(f"importing the libraries alone: {median(libraries):.2f} s")


if __name__ == "__main__":
    main()
