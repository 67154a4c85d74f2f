"""What the service counts about itself, as cheaply as adding to a number.

`prometheus-client` writes the page (`metrics_page`) but does not do the counting: a labelled
counter and a histogram of its took 3 to 9 microseconds a request here, these take 0.2. All counts
are those of this process; `shared_counts` adds up the processes that share a port.
"""

from bisect import bisect_left
from collections.abc import Sequence

import msgspec

REQUEST_BOUNDS = (
    0.0005, 0.001, 0.0025, 0.005, 0.01, 0.025, 0.05, 0.1, 0.25, 0.5, 1.0, 2.5, 5.0, 10.0
)  # fmt: skip
SOLVE_BOUNDS = (
    0.000025, 0.00005, 0.0001, 0.00025, 0.0005, 0.001, 0.0025, 0.005, 0.01, 0.05, 0.1, 1.0
)  # fmt: skip


class Tally(msgspec.Struct):
    """How many took how long: a count for each bound, one for what is longer, and the sum."""

    counts: list[int]
    total: float = 0.0

    def plus(self, other: "Tally") -> "Tally":
        """Both together."""
        pairs = zip(self.counts, other.counts, strict=True)
        return Tally([a + b for a, b in pairs], self.total + other.total)


class Timer:
    """A tally being made."""

    __slots__ = ("_bounds", "tally")

    def __init__(self, bounds: Sequence[float]) -> None:
        self._bounds = bounds
        self.tally = Tally([0] * (len(bounds) + 1))

    def add(self, seconds: float) -> None:
        """Count one that took so long."""
        tally = self.tally
        tally.counts[bisect_left(self._bounds, seconds)] += 1
        tally.total += seconds


SOLVING = Timer(SOLVE_BOUNDS)
"""Every solution: readings in, answer out, without decoding and encoding."""

_requests: dict[tuple[str, int], Timer] = {}
_events: dict[tuple[str, str], int] = {}


def request_timer(operation: str, status: int) -> Timer:
    """The tally of an operation's requests with one status (0: cut off before the answer)."""
    return _requests.setdefault((operation, status), Timer(REQUEST_BOUNDS))


def count(event: str, label: str = "", by: int = 1) -> None:
    """Count something that happens seldom: `rate_limited`, `turned_away`, `deliveries`."""
    _events[event, label] = _events.get((event, label), 0) + by


class Counts(msgspec.Struct):
    """Everything counted, as it is handed from process to process."""

    requests: list[tuple[str, int, Tally]]
    solving: Tally
    events: list[tuple[str, str, int]]
    gauges: dict[str, float]

    def plus(self, other: "Counts") -> "Counts":
        """Both together, gauges too."""
        requests = {(name, status): tally for name, status, tally in self.requests}
        for name, status, tally in other.requests:
            there = requests.get((name, status))
            requests[name, status] = tally if there is None else there.plus(tally)
        events = {(event, label): number for event, label, number in self.events}
        for event, label, number in other.events:
            events[event, label] = events.get((event, label), 0) + number
        gauges = dict(self.gauges)
        for name, value in other.gauges.items():
            gauges[name] = gauges.get(name, 0.0) + value
        return Counts(
            [(*key, tally) for key, tally in requests.items()],
            self.solving.plus(other.solving),
            [(*key, number) for key, number in events.items()],
            gauges,
        )


def counts(gauges: dict[str, float]) -> Counts:
    """What this process has counted until now, with gauges as they stand."""
    return Counts(
        [(*key, timer.tally) for key, timer in sorted(_requests.items())],
        SOLVING.tally,
        [(*key, number) for key, number in sorted(_events.items())],
        gauges,
    )
