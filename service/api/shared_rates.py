"""Rate limits that replicas share through Valkey or Redis.

A replica takes a lease, at most a twentieth of the quota and a quarter of what is left, and counts
within it; so a request in twenty or so costs a round trip and the rest cost nothing, and all
replicas together let through the quota and no more. What a replica has leased and not used when
the window turns is lost: a caller who spreads requests thinly over many replicas is refused a
little early.

While the server cannot be reached each process counts for itself.
"""

import logging
from functools import cached_property
from hashlib import blake2b
from time import monotonic
from typing import Any

from service.api.rates import Lease, Policy

_log = logging.getLogger("service")

PATIENCE = 0.25
"""Seconds to wait for an answer, and"""
PAUSE = 1.0
"""to leave the server alone after there was none."""

LEASE = """
local left = tonumber(ARGV[1]) - tonumber(redis.call('GET', KEYS[1]) or '0')
local cost = tonumber(ARGV[2])
if left < cost then return {0, math.max(left, 0)} end
local grant = math.max(cost, math.min(tonumber(ARGV[3]), math.floor(left / 4)))
redis.call('INCRBY', KEYS[1], grant)
redis.call('EXPIRE', KEYS[1], ARGV[4])
return {grant, left - grant}
"""


class SharedSource:
    """Leases from a counter that all replicas see, one key a caller and window."""

    def __init__(self, url: str) -> None:
        self._url = url.replace("valkey", "redis", 1) if url.startswith("valkey") else url
        self._away_until = 0.0
        self.reachable = True

    @cached_property
    def _script(self) -> Any:
        # Imported here: it takes a tenth of a second, and most installations have one process.
        import redis.asyncio as redis
        from redis.asyncio.retry import Retry
        from redis.backoff import NoBackoff

        self._client = redis.Redis.from_url(
            self._url,
            socket_timeout=PATIENCE,
            socket_connect_timeout=PATIENCE,
            retry=Retry(NoBackoff(), 1),
        )
        return self._client.register_script(LEASE)

    async def lease(self, policy: Policy, who: bytes, window: int, cost: int) -> Lease:
        """A part of what is left of a quota; of this process's own while nobody answers."""
        if monotonic() < self._away_until:
            return Lease(policy.quota, 0)
        # A digest, for `who` may be a key, and what is not written down cannot be read there.
        name = b"axlewright:%b:%d:%b" % (
            policy.name.encode(),
            window,
            blake2b(who, digest_size=16).hexdigest().encode(),
        )
        part = max(1, policy.quota // 20)
        try:
            granted, beyond = await self._script(
                keys=[name], args=[policy.quota, cost, part, 2 * policy.window]
            )
        except Exception as error:
            self._miss(error)
            return Lease(policy.quota, 0)
        self._meet()
        return Lease(int(granted), int(beyond))

    async def close(self) -> None:
        """Close the connections."""
        if "_script" in self.__dict__:
            await self._client.aclose()

    def _miss(self, error: Exception) -> None:
        self._away_until = monotonic() + PAUSE
        if self.reachable:
            _log.warning("rate limits are counted by each process alone: %s", type(error).__name__)
        self.reachable = False

    def _meet(self) -> None:
        if not self.reachable:
            _log.warning("rate limits are shared again")
        self.reachable = True
