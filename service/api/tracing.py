"""W3C Trace Context: the trace a request belongs to, in its log line and in its answer.

`traceparent` comes in; the answer says in `traceresponse` (W3C draft) which span was made of it. A
request without one is told apart by its `Request-Id` alone.
"""

import os
import re
from typing import NamedTuple

_FORM = re.compile(rb"([0-9a-f]{2})-([0-9a-f]{32})-([0-9a-f]{16})-([0-9a-f]{2})(-.*)?")


class Trace(NamedTuple):
    """One request as a span of a trace; ids in lower-case hexadecimal."""

    trace_id: bytes
    parent_id: bytes
    span_id: bytes
    flags: bytes

    @property
    def in_log(self) -> bytes:
        """The fields that a log line gets."""
        form = b',"trace_id":"%b","span_id":"%b","parent_id":"%b"'
        return form % (self.trace_id, self.span_id, self.parent_id)

    @property
    def response(self) -> bytes:
        """The value of `traceresponse`."""
        return b"00-%b-%b-%b" % (self.trace_id, self.span_id, self.flags)


def trace_of(traceparent: bytes) -> Trace | None:
    """The trace that a `traceparent` names, with a span of our own; None if it cannot be used.

    A version after 00 may carry more at its end; its first four fields are read alike. Ids of
    nothing but zeros, and version ff, are void.
    """
    found = _FORM.fullmatch(traceparent)
    if found is None:
        return None
    version, trace_id, parent_id, flags, more = found.groups()
    if version == b"ff" or (version == b"00" and more):
        return None
    if trace_id.strip(b"0") == b"" or parent_id.strip(b"0") == b"":
        return None
    return Trace(trace_id, parent_id, os.urandom(8).hex().encode(), flags)


def begun_for(trace_id: str) -> str:
    """A `traceparent` that begins a trace; 32 hexadecimal digits are its id."""
    return f"00-{trace_id}-{os.urandom(8).hex()}-01"
