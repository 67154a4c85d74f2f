"""Identifiers made here: UUIDs of version 7 (RFC 9562), which sort by the time they were made."""

import os
import threading
import time
from uuid import UUID


class _Clock:
    """Milliseconds in 48 bits and 12 bits of their fraction, never twice the same."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._last = 0

    def tick(self) -> int:
        """The time now; a clock that stands still or steps back is outrun by one step a call."""
        milliseconds, rest = divmod(time.time_ns(), 1_000_000)
        now = (milliseconds << 12) | (rest * 4096 // 1_000_000)
        with self._lock:
            self._last = max(now, self._last + 1)
            return self._last


_clock = _Clock()


def new_id() -> UUID:
    """A UUID of version 7 (RFC 9562, 6.2, method 3), later than all that this process made."""
    stamp = _clock.tick()
    random = int.from_bytes(os.urandom(8)) & ((1 << 62) - 1)
    high, low = stamp >> 12, stamp & 0xFFF
    return UUID(int=(high << 80) | (0x7 << 76) | (low << 64) | (0b10 << 62) | random)
