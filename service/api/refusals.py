"""Answers to what never became a request: written by hand, in the form of every other problem."""

from collections.abc import Iterable
from http import HTTPStatus

import msgspec

from service.api.browsers import ALWAYS
from service.contract.problems import PROBLEM_JSON, ProblemError
from service.contract.request_ids import RequestIds

_ids = RequestIds()


def refusal(problem: ProblemError, default_headers: Iterable[tuple[bytes, bytes]]) -> bytes:
    """The whole answer as bytes of HTTP/1.1; it ends the connection."""
    request_id = _ids.id_of(None)
    body = msgspec.json.encode(problem.problem(f"urn:uuid:{request_id.decode()}"))
    headers = [
        *default_headers,
        (b"content-type", PROBLEM_JSON.encode()),
        (b"content-length", b"%d" % len(body)),
        (b"request-id", request_id),
        *ALWAYS,
        (b"connection", b"close"),
    ]
    status = HTTPStatus(problem.kind.status)
    line = f"HTTP/1.1 {status.value} {status.phrase}\r\n".encode()
    return b"".join([line, *(b"%b: %b\r\n" % pair for pair in headers), b"\r\n", body])
