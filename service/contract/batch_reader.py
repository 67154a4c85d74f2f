"""Takes a batch apart into the texts of its vehicles, so that one bad vehicle spoils no other.

Only what is around the vehicles is read here, in one fast pass; each vehicle's text is read when
its turn comes, since reading thousands at once would hold up everybody else.
"""

import asyncio
from collections.abc import AsyncIterator, Sequence
from typing import Any

import msgspec

from service.contract.asgi import Receive
from service.contract.batches import MOST_VEHICLES, SolutionBatchRequest
from service.contract.bodies import reader_of, undescribed
from service.contract.envelope import UNREADABLE, refuse_second_list, texts_in
from service.contract.line_source import LineSource
from service.contract.problem_catalogue import (
    CONTRACT_BROKEN,
    TOO_MANY_VEHICLES,
    ProblemKind,
)
from service.contract.problems import ProblemError, field_error, pointer_to
from service.contract.unreadable import not_json, too_deep

NDJSON = "application/x-ndjson"

LONGEST_VEHICLE = 256 * 1024
"""Bytes of one vehicle's request; 200 readings with long texts have a quarter of that."""

SMALL = 256 * 1024
"""Bytes of a body whose every fault is named if its envelope is wrong; of a larger one, the
first."""

Text = bytes | ProblemError
"""The text of one vehicle's request, or why it was not even looked at."""


class BatchReader:
    """Reads the body of a batch for `StrictRequest`: JSON whole, lines while they come."""

    async def read(self, request: Any) -> SolutionBatchRequest:
        """A request whose `items` are a Batch, since Litestar takes none but the described type.

        Raises ProblemError when there is no list of vehicles to answer.
        """
        texts: list[bytes] | LineSource
        if request.media_type == NDJSON:
            texts = LineSource(request.parts(), LONGEST_VEHICLE)
        else:
            texts = texts_of(await request.body())
        items: Any = Batch(texts, request.receive)
        return SolutionBatchRequest(items=items)


class Batch:
    """The vehicles of a batch: all their texts, or a source of lines that still come."""

    def __init__(self, texts: Sequence[Text] | LineSource, receive: Receive) -> None:
        self._texts = texts
        self._leaving = asyncio.create_task(_leaving(texts, receive))

    @property
    def left(self) -> bool:
        """Whether the client has gone, so that nobody waits for the answers."""
        return self._leaving.done()

    def close(self) -> None:
        """Look no longer at what comes from the client."""
        self._leaving.cancel()
        if isinstance(self._texts, LineSource):
            self._texts.close()

    async def gather(self) -> None:
        """Wait for all vehicles; raises ProblemError as `groups` does, before any is worked on."""
        if isinstance(self._texts, LineSource):
            source = self._texts
            self._texts = [text async for group in self.groups(MOST_VEHICLES) for text in group]
            source.close()

    async def groups(self, most: int) -> AsyncIterator[Sequence[Text]]:
        """The vehicles in groups of at most so many, of a stream as many as have come.

        Raises ProblemError when a stream holds no vehicle or too many, or ends as it must not.
        """
        if not isinstance(self._texts, LineSource):
            for first in range(0, len(self._texts), most):
                yield self._texts[first : first + most]
            return
        count = 0
        while group := await self._texts.some(most):
            count += len(group)
            yield group[: len(group) - max(count - MOST_VEHICLES, 0)]
            if count > MOST_VEHICLES:
                raise wrong_count(f"more than {MOST_VEHICLES}", TOO_MANY_VEHICLES)
        if not count:
            raise wrong_count("0", CONTRACT_BROKEN)


async def _leaving(texts: Sequence[Text] | LineSource, receive: Receive) -> None:
    """End when the client leaves."""
    if isinstance(texts, LineSource):
        await texts.ended()
        if texts.lost:
            return
    while (await receive())["type"] != "http.disconnect":
        pass  # the rest of a body that was too large


def texts_of(body: bytes) -> list[bytes]:
    """The texts of the vehicles in a JSON body; raises ProblemError if its envelope is wrong."""
    try:
        found = texts_in(body)
    except UNREADABLE as error:
        raise _refusal(body, error) from None
    if not 0 < len(found) <= MOST_VEHICLES:
        raise wrong_count(str(len(found)), TOO_MANY_VEHICLES if found else CONTRACT_BROKEN)
    refuse_second_list(body, found)
    return found


def _refusal(body: bytes, error: Exception) -> ProblemError:
    """The problem with an envelope: every fault of a small body, the first of a large one."""
    if len(body) <= SMALL:
        try:
            reader_of(SolutionBatchRequest).read(body)
        except ProblemError as problem:
            return problem
    if isinstance(error, msgspec.ValidationError):
        return ProblemError.of_broken_rules([undescribed(error)])
    if isinstance(error, RecursionError):
        return too_deep()
    reason = str(error) if isinstance(error, msgspec.DecodeError) else "a string is not UTF-8"
    return not_json(f"{reason}.", "Write JSON as RFC 8259 has it.")


def wrong_count(found: str, kind: ProblemKind) -> ProblemError:
    """The problem of a batch with no vehicle or with too many."""
    detail = f"the batch has {found} vehicles"
    hint = f"Send 1 to {MOST_VEHICLES} vehicles in one batch."
    return ProblemError(kind, detail, [field_error(kind, pointer_to("items"), detail, hint)])
