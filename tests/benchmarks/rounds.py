"""Times things against each other in rounds that take turns, so that a busy machine is fair to all.

Processor time of the thread, not the clock: what else runs meanwhile is left out.
"""

import gc
from collections.abc import Callable, Mapping
from time import thread_time

Way = Callable[[], object]


def timed(ways: Mapping[str, Way], rounds: int = 40) -> dict[str, float]:
    """Seconds of processor time of one call of each way, the best of its rounds."""
    taken: dict[str, list[float]] = {name: [] for name in ways}
    for way in ways.values():
        way()
    gc.collect()
    gc.freeze()  # what stands is not walked again and again by the collector
    for _ in range(rounds):
        for name, way in ways.items():
            begun = thread_time()
            way()
            taken[name].append(thread_time() - begun)
    gc.unfreeze()
    return {name: min(found) for name, found in taken.items()}


def table(title: str, figures: Mapping[str, float], base: float, each: int) -> None:
    """Print microseconds for one of `each` and the ratio to the base, both of this run."""
    print(f"\n{title}")
    for name, seconds in figures.items():
        print(f"  {name:52} {seconds / each * 1e6:9.1f} us {seconds / base:7.2f}")
