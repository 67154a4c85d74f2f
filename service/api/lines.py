"""Log lines on their way out: collected where they arise, written by a thread of their own.

A request that logs appends to a list and goes on; the thread writes what has gathered ten times a
second. A reader of the pipe that has stopped reading can thus never stop the service: lines are
then dropped and counted. A killed process loses up to a tenth of a second of lines.

Processes that share a pipe write pieces of at most `PIECE` bytes, which a pipe takes whole or not
at all (POSIX, PIPE_BUF), so that they never write into each other's lines. A process alone writes
all that has gathered at once: each write has the thread ask for the interpreter anew, which holds
up whoever has it.
"""

import threading
from collections import deque
from collections.abc import Iterable, Iterator
from typing import Any

EVERY = 0.1
"""Seconds between two writes."""
MOST = 20_000
"""Lines that may wait; more are dropped."""
PIECE = 4096
ALONE = 1 << 20


class LineWriter:
    """Writes whole lines to an unbuffered binary stream, in order, from any thread."""

    def __init__(self, target: Any, piece: int = PIECE) -> None:
        self.dropped = 0
        self._piece = piece
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
        for piece in _pieces(lines, self._piece):
            try:
                self._write(piece)
            except (OSError, ValueError):
                self.dropped += piece.count(b"\n")

    def _write(self, piece: bytes) -> None:
        while piece:
            piece = piece[self._target.write(piece) or 0 :]


def _pieces(lines: Iterable[bytes], most: int) -> Iterator[bytes]:
    """Lines with their ends, as many together as have room in a piece."""
    gathered: list[bytes] = []
    size = 0
    for line in lines:
        if gathered and size + len(line) >= most:
            yield b"\n".join([*gathered, b""])
            gathered, size = [], 0
        gathered.append(line)
        size += len(line) + 1
    if gathered:
        yield b"\n".join([*gathered, b""])
