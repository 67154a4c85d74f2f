"""Lines of a body as they come, read ahead while answers to earlier ones are written.

Reading must not wait for the answers to be taken: a client that sends everything before it reads
would wait for the service, and the service for it. What is ahead is bounded by the body's limit.
"""

import asyncio
from collections import deque
from collections.abc import AsyncIterator, Sequence

from service.contract.problem_catalogue import BODY_TOO_LARGE
from service.contract.problems import BodyLostError, FieldError, ProblemError


class LineSource:
    """Reads a body in a task of its own and gives its lines in order, empty ones left out.

    A line over the limit stands as the problem that it is; it is not kept.
    """

    def __init__(self, parts: AsyncIterator[bytes], longest: int) -> None:
        self.lost = False
        """Whether the client left before the body's end: then no line is given any more."""
        self._longest = longest
        self._lines: deque[bytes | ProblemError] = deque()
        self._begun: list[bytes] = []
        self._size = 0
        self._fault: Exception | None = None
        self._came, self._ended = asyncio.Event(), asyncio.Event()
        self._reading = asyncio.create_task(self._read(parts))

    async def some(self, most: int) -> Sequence[bytes | ProblemError]:
        """The next lines, waiting for one at least; none when the body has ended.

        Raises what ended the body otherwise, once the lines before are taken.
        """
        while not self._lines and not self._ended.is_set():
            self._came.clear()
            await self._came.wait()
        if not self._lines and self._fault is not None:
            raise self._fault
        return [self._lines.popleft() for _ in range(min(most, len(self._lines)))]

    async def ended(self) -> None:
        """Wait until the body has ended in whatever way."""
        await self._ended.wait()

    def close(self) -> None:
        """Read no more; whatever the rest of the body is, nobody asks for it."""
        self._reading.cancel()

    async def _read(self, parts: AsyncIterator[bytes]) -> None:
        try:
            async for part in parts:
                self._take(part)
            self._end_line(b"")
        except BodyLostError:
            self.lost = True
            self._lines.clear()
        except Exception as error:
            self._fault = error
        finally:
            self._ended.set()
            self._came.set()

    def _take(self, part: bytes) -> None:
        *ended, begun = part.split(b"\n")
        for end in ended:
            self._end_line(end)
        self._size += len(begun)
        if begun and self._size <= self._longest:
            self._begun.append(begun)
        if self._lines:
            self._came.set()

    def _end_line(self, end: bytes) -> None:
        if self._size + len(end) > self._longest:
            self._lines.append(_too_long(self._longest))
        else:
            line = b"".join([*self._begun, end]) if self._begun else end
            if line.strip():
                self._lines.append(line)
        self._begun.clear()
        self._size = 0


def _too_long(longest: int) -> ProblemError:
    detail = f"The line has more than {longest} bytes."
    hint = "Send one vehicle's request in one line."
    return ProblemError(BODY_TOO_LARGE, detail, [FieldError("#", detail, hint)])
