"""What a shop system asks, against one process, two processes and two replicas."""

import time
from pathlib import Path
from statistics import median

from benchmarks.load import wrk
from benchmarks.load.network import front
from benchmarks.load.processes import Served, service
from benchmarks.load.shop import make_shop, write_bodies
from stores import start_postgres

VISITS = 300
"""So many that none gets more rounds than a visit has room for."""
TURNS = 3


def mix(folder: Path, seconds: float, rounds: int) -> None:
    """Print requests a second of the mix in mix.lua for each way to run the service."""
    print("| how it runs | requests/s | p50, p99 ms | refused, broken | cores: own, wrk, others |")
    print("|---|---|---|---|---|")
    turns = min(rounds, TURNS)
    sqlite = f"sqlite:///{folder / 'mix.sqlite3'}"
    _alone("SQLite, one process", folder, sqlite, seconds, turns, AXLEWRIGHT_PROCESSES="1")
    for url in start_postgres():
        for count in ("1", "2"):
            name = f"PostgreSQL, {count} process{'es' if count == '2' else ''}"
            _alone(name, folder, url, seconds, turns, AXLEWRIGHT_PROCESSES=count)
        arguments = _arguments(folder, url)
        with front(folder, url) as ahead:
            address = ahead.addresses[0]
            _print(f"PostgreSQL, {ahead.how}", ahead.replicas, address, arguments, seconds, turns)


def _alone(name: str, folder: Path, url: str, seconds: float, turns: int, **variables: str) -> None:
    arguments = _arguments(folder, url)
    server = service("mix", folder, url, **variables).start()
    try:
        _print(name, [server], server.base, arguments, seconds, turns)
    finally:
        server.stop()


def _arguments(folder: Path, url: str) -> list[str]:
    shop = make_shop(url, VISITS)
    files = write_bodies(folder, shop)
    return [shop.key, "", *[files[name] for name in ("solve", "round", "visits")]]


def _print(
    name: str,
    servers: list[Served],
    address: str,
    arguments: list[str],
    seconds: float,
    turns: int,
) -> None:
    runs = []
    for _ in range(turns + 1):  # the first warms up
        arguments[1] = f"{time.time_ns():x}"
        runs.append(wrk.run(servers, "mix.lua", address, arguments, seconds))
    runs = runs[1:]
    cores = ", ".join(
        f"{median(getattr(run, field) for run in runs):.2f}"
        for field in ("server_cores", "wrk_cores", "other_cores")
    )
    rate, p50, p99 = (
        median(getattr(run, field) for run in runs) for field in ("rate", "p50", "p99")
    )
    refused, broken = sum(run.refused for run in runs), sum(run.broken for run in runs)
    print(
        f"| {name} | {rate:.0f} | {p50:.1f}, {p99:.1f} | {refused}, {broken} | {cores} |",
        flush=True,
    )
