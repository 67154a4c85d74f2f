"""Reads a batch so that one bad vehicle spoils no other: whole at once, else item by item."""

from typing import Any

import msgspec

from service.contract.batches import MOST_VEHICLES, SolutionBatchRequest
from service.contract.bodies import reader_of
from service.contract.problem_catalogue import CONTRACT_BROKEN, TOO_MANY_VEHICLES
from service.contract.problems import ProblemError, field_error, pointer_to
from service.contract.solution import SolutionRequest

NDJSON = "application/x-ndjson"

Item = SolutionRequest | ProblemError


class _Envelope(msgspec.Struct, forbid_unknown_fields=True):
    items: list[msgspec.Raw]


_envelope = msgspec.json.Decoder(_Envelope).decode


class BatchReader:
    """Reads the body of a batch, JSON or lines of it, into a SolutionBatchRequest.

    Items that break the contract stand in `items` as the ProblemError they deserve; only an
    envelope that is wrong itself refuses the whole.
    """

    def read(self, body: bytes, media_type: str) -> SolutionBatchRequest:
        """The batch; raises ProblemError when there is no list of items to answer."""
        if media_type == NDJSON:
            lines: Any = read_lines(body)
            return SolutionBatchRequest(items=lines)
        whole = reader_of(SolutionBatchRequest)
        try:
            request: SolutionBatchRequest = whole.read(body)
        except ProblemError as error:
            try:
                found = _envelope(body).items
            except (msgspec.DecodeError, UnicodeError, RecursionError):
                raise error from None
            if not 0 < len(found) <= MOST_VEHICLES:
                raise _count(len(found)) from None
            items: Any = [read_item(bytes(item)) for item in found]
            return SolutionBatchRequest(items=items)
        return request


def read_item(text: bytes) -> Item:
    """One vehicle's request, or the problem with it."""
    try:
        request: SolutionRequest = reader_of(SolutionRequest).read(text)
    except ProblemError as error:
        return error
    return request


def read_lines(body: bytes) -> list[Item]:
    """The requests of a stream of lines of JSON; empty lines say nothing."""
    lines = [line for line in body.split(b"\n") if line.strip()]
    if not 0 < len(lines) <= MOST_VEHICLES:
        raise _count(len(lines))
    return [read_item(line) for line in lines]


def _count(found: int) -> ProblemError:
    kind = TOO_MANY_VEHICLES if found else CONTRACT_BROKEN
    detail = f"the batch has {found} vehicles"
    hint = f"Send 1 to {MOST_VEHICLES} vehicles in one batch."
    return ProblemError(kind, detail, [field_error(kind, pointer_to("items"), detail, hint)])
