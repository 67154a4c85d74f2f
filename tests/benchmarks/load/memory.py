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
    """Print the resident memory of one process: at its start, while it solves, then in the mix.

    The mix gets a twentieth of the requests; with it the database grows, and with that what SQLite
    keeps of it, up to 2 MB for each of five connections.
    """
    url = f"sqlite:///{folder / 'memory.sqlite3'}"
    shop = make_shop(url, 300)
    files = write_bodies(folder, shop)
    server = service("memory", folder, url).start()
    names = ("solve", "round", "visits")
    mixed = [shop.key, "memory", *[files[name] for name in names]]
    try:
        print(f"at its start {_now(server)}")
        solving = [files["solve"], shop.key]
        path = f"{server.base}/v1/solutions"
        _grown(server, "one.lua", path, solving, requests)
        _grown(server, "mix.lua", server.base, mixed, requests // 20)
    finally:
        server.stop()


def _grown(server: Served, script: str, url: str, arguments: list[str], requests: int) -> None:
    """Ask so often, and print the memory after each tenth and how much it grew after the first."""
    name, told, done, rate = script.removesuffix(".lua"), [], 0, 1000.0
    for step in range(1, STEPS + 1):
        while done < requests * step / STEPS:
            seconds = min(20, max(1, round((requests * step / STEPS - done) / rate)))
            if script == "mix.lua":
                arguments[1] = f"memory-{done}"
            run = wrk.run([server], script, url, arguments, seconds)
            assert not run.refused, run
            rate = run.rate
            done += round(rate * seconds)
        told.append(max(server.resident_megabytes()))
        print(f"{name}: after {done:>7} requests {_now(server)}", flush=True)
    print(
        f"{name}: from the first tenth to the last {told[-1] - told[0]:+.1f} MB, "
        f"at most {max(told):.1f} MB (target: flat, below {LIMIT})"
    )


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
