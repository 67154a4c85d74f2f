"""The head of an answer and the beginning of its body, sent in one write.

The server writes them apart, and each write is a system call, a packet and a reader that wakes up;
that takes as long as solving a vehicle does.
"""

import asyncio
from typing import Any

CONTINUE = b"HTTP/1.1 100 "


class OneWrite:
    """Stands for a transport while one answer is written; all but writing is the transport's own.

    The head is kept until what follows it is there.
    """

    __slots__ = ("_head", "_transport")

    def __init__(self, transport: asyncio.Transport) -> None:
        self._transport = transport
        self._head: bytes | None = None

    def write(self, data: bytes) -> None:
        """Keep the head, write it with what comes next, and all else as it comes."""
        head = self._head
        if head:
            self._head = b""
            data = head + data
        elif head is None and not data.startswith(CONTINUE):
            self._head = data
            return
        self._transport.write(data)

    def close(self) -> None:
        """Close, after a head that nothing followed."""
        if self._head:
            self._transport.write(self._head)
        self._transport.close()

    def __getattr__(self, name: str) -> Any:
        return getattr(self._transport, name)
