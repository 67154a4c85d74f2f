"""Ids of requests: the client's own where it sends a UUID, else one made here."""

import os
import re
from itertools import count

_UUID = re.compile(rb"[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}", re.IGNORECASE)


class RequestIds:
    """Source of request ids: UUIDs of version 8 (RFC 9562), 74 random bits a process and a count.

    A random UUID for each request would cost a system call; these cost a tenth of it.
    """

    __slots__ = ("_count", "_prefix")

    def __init__(self) -> None:
        self._begin()
        os.register_at_fork(after_in_child=self._begin)

    def _begin(self) -> None:
        text = os.urandom(10).hex()
        variant = "89ab"[int(text[15], 16) & 3]
        self._prefix = f"{text[:8]}-{text[8:12]}-8{text[12:15]}-{variant}{text[16:19]}-".encode()
        self._count = count(int.from_bytes(os.urandom(4), "big"))

    def id_of(self, sent: bytes | None) -> bytes:
        """The id of a request whose `Request-Id` header is `sent` (None: without)."""
        if sent is not None and _UUID.fullmatch(sent):
            return sent.lower()
        return b"%b%012x" % (self._prefix, next(self._count))
