"""Log lines on their way out: collected where they arise, written by a thread of their own.

A request that logs appends to a list and goes on; the thread writes what has gathered ten times a
second. A reader of the pipe that has stopped reading can thus never stop the service: lines are
then dropped and counted. A killed process loses up to a tenth of a second of lines.
"""

import threading
from collections import deque
from typing import BinaryIO

EVERY = 0.1
"""Seconds between two writes."""
MOST = 20_000
"""Lines that may wait; more are dropped."""


class LineWriter:
    """Writes whole lines to a stream, in order, from any thread."""

    def __init__(self, target: BinaryIO) -> None:
        self.dropped = 0
        self._target = target
        self._waiting: deque[bytes] = deque()
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._serve, name="axlewright-log", daemon=True)
        self._thread.start()

    @property
    def waiting(self) -> int:
        """Lines not yet written."""
        return len(self._waiting)

    def write(self, line: bytes) -> None:
        """Take a line without its end; never waits."""
        if len(self._waiting) < MOST:
            self._waiting.append(line)
        else:
            self.dropped += 1

    def close(self) -> None:
        """Write what is left and stop; a stream that takes nothing is left after a second."""
        self._stop.set()
        self._thread.join(1.0)

    def _serve(self) -> None:
        while not self._stop.wait(EVERY):
            self._flush()
        self._flush()

    def _flush(self) -> None:
        # A deque, since appending to it and taking from it are each one step to other threads.
        lines = [self._waiting.popleft() for _ in range(len(self._waiting))]
        if not lines:
            return
        try:
            self._target.write(b"\n".join([*lines, b""]))
            self._target.flush()
        except (OSError, ValueError):
            self.dropped += len(lines)
