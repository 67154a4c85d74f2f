"""How much one key or one address may ask, counted in fixed windows, and the headers that tell it.

Counting is taking from what a *source* has leased. The source of a single process leases the
whole quota at once; one that several replicas share leases small parts, so that most requests are
counted without asking it and no more than the quota is ever let through (`shared_rates`).

The headers are those of draft-ietf-httpapi-ratelimit-headers: `RateLimit-Policy:
"default";q=100;w=60` and `RateLimit: "default";r=50;t=30`.
"""

from collections import OrderedDict
from typing import NamedTuple, Protocol

Headers = tuple[tuple[bytes, bytes], ...]

MOST_COUNTED = 50_000
"""Callers that are told apart in one window; the rest share one count."""
CROWD = b"everybody else"

UNIT = 64 * 1024
"""Bytes of a body that count as one more request."""
UNANNOUNCED = 5
"""What a body counts that does not say its length."""


class Lease(NamedTuple):
    """A part of a quota that may be spent without asking again, and what is left beyond it."""

    granted: int
    beyond: int


class Source(Protocol):
    """Where quotas come from."""

    async def lease(self, policy: "Policy", who: bytes, window: int, cost: int) -> Lease:
        """A part of what `who` has left in a window, at least `cost` if there is so much."""

    async def close(self) -> None:
        """Let go of what it holds."""


class Policy(NamedTuple):
    """So many requests in so many seconds, under a name."""

    name: str
    quota: int
    window: int


def part_of(policy: Policy, left: int, cost: int) -> int:
    """What a lease takes of what is left: a twentieth of the quota, a quarter of the rest."""
    if left < cost:
        return 0
    return max(cost, min(max(1, policy.quota // 20), left // 4))


class OwnSource:
    """The quotas of a process alone."""

    async def lease(self, policy: Policy, who: bytes, window: int, cost: int) -> Lease:
        """The whole quota, the first time; nothing after that."""
        return Lease(policy.quota, 0)

    async def close(self) -> None:
        """There is nothing to let go of."""


class Counter:
    """What each caller has left under one policy in the running window."""

    def __init__(self, policy: Policy) -> None:
        self.policy = policy
        self._window = -1
        self._cells: dict[bytes, list[int]] = {}
        self._said = (
            b"ratelimit-policy",
            f'"{policy.name}";q={policy.quota};w={policy.window}'.encode(),
        )
        self._form = f'"{policy.name}";r=%d;t=%d'.encode()

    def take(self, who: bytes, cost: int, now: float) -> int | None:
        """What is left after taking `cost`, negative if it is refused; None: lease first."""
        window = int(now) // self.policy.window
        if window != self._window:
            self._window, self._cells = window, {}
        cell = self._cells.get(who)
        if cell is None:
            return None
        if cell[0] >= cost:
            cell[0] -= cost
            return cell[0] + cell[1]
        return None if cell[1] else -1

    async def take_leased(self, source: Source, who: bytes, cost: int, now: float) -> int:
        """The same, asking the source for more first."""
        if who not in self._cells and len(self._cells) >= MOST_COUNTED:
            who = CROWD
        left = self.take(who, cost, now)
        if left is not None:
            return left
        window = self._window
        lease = await source.lease(self.policy, who, window, cost)
        if window != self._window:
            return lease.granted + lease.beyond - cost  # the window turned while we asked
        cell = self._cells.setdefault(who, [0, 0])
        cell[0] += lease.granted
        cell[1] = lease.beyond
        if cell[0] < cost:
            return -1
        cell[0] -= cost
        return cell[0] + cell[1]

    def headers(self, left: int, now: float) -> Headers:
        """What an answer says of this policy."""
        return ((b"ratelimit", self._form % (max(left, 0), self.turns_in(now))), self._said)

    def turns_in(self, now: float) -> int:
        """Seconds until the window turns, at least 1."""
        return self.policy.window - int(now) % self.policy.window


class GoodKeys:
    """Authorization headers that were found good lately: only these count as keys.

    Whoever makes keys up is counted by address, or each invention would have a quota of its own.
    """

    def __init__(self, most: int = 10_000) -> None:
        self._most = most
        self._found: OrderedDict[bytes, None] = OrderedDict()

    def __contains__(self, authorization: bytes) -> bool:
        return authorization in self._found

    def add(self, authorization: bytes) -> None:
        """Remember one that was found good."""
        self._found[authorization] = None
        self._found.move_to_end(authorization)
        while len(self._found) > self._most:
            self._found.popitem(last=False)

    def discard(self, authorization: bytes) -> None:
        """Forget one that is no longer good."""
        self._found.pop(authorization, None)


def cost_of(length: bytes | None, quota: int) -> int:
    """How many requests one counts for by the length of its body, never more than the quota."""
    if length is None:
        return min(UNANNOUNCED, quota)
    if len(length) < 5 or not length.isdigit():
        return 1
    return min(1 + int(length[:15]) // UNIT, quota)
