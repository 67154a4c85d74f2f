"""Solving on one process and on two, in turns, and whether the machine had a core for each."""

import os
from pathlib import Path
from statistics import median

from benchmarks.load import wrk
from benchmarks.load.processes import service, stopped
from benchmarks.load.shop import make_shop, write_bodies


def scale(folder: Path, seconds: float, rounds: int) -> None:
    """Print both rates, their ratio, and where the processors' time went."""
    url = f"sqlite:///{folder / 'scale.sqlite3'}"
    shop = make_shop(url)
    body = write_bodies(folder, shop)["solve"]
    servers = [
        service(f"{count}-process", folder, url, AXLEWRIGHT_PROCESSES=str(count))
        for count in (1, 2)
    ]
    runs: list[list[wrk.Run]] = [[], []]
    try:
        for one in servers:
            one.start()
        for turn in range(rounds + 1):
            for one, of_one in zip(servers, runs, strict=True):
                address = one.base + "/v1/solutions"
                run = wrk.run([one], "one.lua", address, [body, shop.key], seconds)
                assert not run.refused, run
                if turn:
                    of_one.append(run)
    finally:
        stopped(servers)
    print("| processes | requests/s | p99 ms | cores: service, wrk, others |")
    print("|---|---|---|---|")
    for count, of_one in enumerate(runs, 1):
        cores = [
            median(getattr(run, field) for run in of_one)
            for field in ("server_cores", "wrk_cores", "other_cores")
        ]
        print(
            f"| {count} | {median(run.rate for run in of_one):.0f} "
            f"| {median(run.p99 for run in of_one):.1f} "
            f"| {', '.join(f'{one:.2f}' for one in cores)} |"
        )
    ratios = [two.rate / one.rate for one, two in zip(*runs, strict=True)]
    per_cpu = [two.per_cpu / one.per_cpu for one, two in zip(*runs, strict=True)]
    taken = median(run.wrk_cores + run.other_cores for run in runs[1])
    left = (os.cpu_count() or 1) - taken
    print(
        f"\nTwo processes answer {median(ratios):.2f} times as much as one (target 1.8). "
        f"wrk and others left them {left:.2f} of {os.cpu_count()} cores, so {left:.2f} is what "
        f"there was to reach. Per second of processor time the two do "
        f"{median(per_cpu):.2f} of what the one does."
    )
