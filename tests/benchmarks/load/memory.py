"""Resident memory over many requests, and the time to the first answer."""

import time
from pathlib import Path
from statistics import median

from benchmarks.load import wrk
from benchmarks.load.compare import Contender, asked
from benchmarks.load.processes import Served, service
from benchmarks.load.shop import make_shop, write_bodies

STEPS = 10
LIMIT = 120
"""Megabytes that a process may have."""


def memory(folder: Path, requests: int) -> None:
    """Print the resident memory of one process, at its start and after each tenth of the requests.

    Ten of every eleven requests solve; the last of them are the mix of a shop system.
    """
    url = f"sqlite:///{folder / 'memory.sqlite3'}"
    shop = make_shop(url, 300)
    files = write_bodies(folder, shop)
    server = service("memory", folder, url).start()
    print(f"at its start          {_now(server)}")
    told = []
    try:
        for step in range(1, STEPS + 1):
            done = 0
            while done < requests / STEPS:
                done += _some(server, files, shop.key, requests / STEPS - done, f"{step}-{done}")
            told.append(max(server.resident_megabytes()))
            print(f"after {requests * step // STEPS:>9} requests {_now(server)}", flush=True)
    finally:
        server.stop()
    grown = told[-1] - told[1]
    print(
        f"From the second tenth to the last it grew by {grown:.1f} MB; "
        f"at most it had {max(told):.1f} MB, to stay below {LIMIT}."
    )


def _some(server: Served, files: dict[str, str], key: str, left: float, mark: str) -> int:
    """Ask for a while, a second of the mix after each ten of solving; how many were answered."""
    seconds = 1.0 if left < 5000 else 5.0
    run = wrk.run(
        [server], "one.lua", f"{server.base}/v1/solutions", [files["solve"], key], seconds
    )
    names = ("solve", "round", "visits")
    arguments = [key, f"memory-{mark}", *[files[name] for name in names]]
    mixed = wrk.run([server], "mix.lua", server.base, arguments, 1.0)
    return round(run.rate * seconds + mixed.rate)


def _now(server: Served) -> str:
    return ", ".join(f"{one:6.1f} MB" for one in server.resident_megabytes())


def start(folder: Path, rounds: int) -> None:
    """Print the time from the start of the process to its first answers."""
    url = f"sqlite:///{folder / 'start.sqlite3'}"
    shop = make_shop(url)
    body = Path(write_bodies(folder, shop)["solve"]).read_bytes()
    alive, solved = [], []
    for turn in range(rounds):
        server = service(f"start-{turn}", folder, url)
        server.start()
        try:
            alive.append(server.seconds_to_answer)
            contender = Contender("start", server, "/v1/solutions", shop.key)
            solved.append(alive[-1] + _seconds(contender, body))
        finally:
            server.stop()
    print(
        f"ready after {median(alive):.2f} s ({min(alive):.2f} to {max(alive):.2f}), the first "
        f"solution after {median(solved):.2f} s, medians of {rounds} starts"
    )


def _seconds(contender: Contender, body: bytes) -> float:
    begun = time.perf_counter()
    asked(contender, body)
    return time.perf_counter() - begun
