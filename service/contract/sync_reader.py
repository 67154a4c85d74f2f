"""Takes a day's offline work apart into the texts of its items, so that one bad spoils no other.

Only what is around the items is read here; each item's text is read when its turn comes.
"""

from typing import Any, NamedTuple
from uuid import UUID

import msgspec
from msgspec.structs import replace

from service.contract.bodies import reader_of
from service.contract.envelope import UNREADABLE, refuse_second_list, texts_in
from service.contract.problems import ProblemError, pointer_to
from service.contract.syncs import MOST_ITEMS, SyncItem, SyncRequest

NO_ID = UUID(int=0)
"""Answered for an item whose own id cannot be read: the place in the request tells which it is."""


class SentItem(NamedTuple):
    """An item, and the readings of a round letter by letter, empty for what is no round."""

    item: SyncItem
    readings: bytes


class _Content(msgspec.Struct):
    request: msgspec.Raw = msgspec.Raw()


class _Round(msgspec.Struct):
    content: _Content


class _Named(msgspec.Struct):
    id: UUID


_round = msgspec.json.Decoder(_Round).decode
_named = msgspec.json.Decoder(_Named).decode


class SyncReader:
    """Reads the body of a sync for `StrictRequest`."""

    async def read(self, request: Any) -> SyncRequest:
        """A request whose `items` are texts, since Litestar takes none but the described type.

        Raises ProblemError when there is no list of 1 to 500 items to answer.
        """
        items: Any = item_texts(await request.body())
        return SyncRequest(items=items)


def item_texts(body: bytes) -> list[bytes]:
    """The texts of the items; raises ProblemError with every fault if what is around is wrong."""
    try:
        found = texts_in(body)
    except UNREADABLE:
        found = []
    if not 0 < len(found) <= MOST_ITEMS:
        reader_of(SyncRequest).read(body)
        raise AssertionError("a body without a list of items was read as one with it")
    refuse_second_list(body, found)
    return found


def read_item(text: bytes, index: int) -> SentItem:
    """The item at a place of the request; raises ProblemError with pointers within the request.

    It is read as the only one of a request, so that its faults are told in the same words.
    """
    try:
        [item] = reader_of(SyncRequest).read(b'{"items":[%b]}' % text).items
    except ProblemError as problem:
        raise _at(problem, index) from None
    return SentItem(item, bytes(_round(text).content.request))


def id_in(text: bytes) -> UUID:
    """The id of an item that was refused, as far as it has one."""
    try:
        return _named(text).id
    except UNREADABLE:
        return NO_ID


def _at(problem: ProblemError, index: int) -> ProblemError:
    """The problem of the only item of a request as that of the item at a place."""
    alone, place = pointer_to("items", 0), pointer_to("items", index)
    errors = [
        replace(error, pointer=place + error.pointer.removeprefix(alone).removeprefix("#"))
        for error in problem.errors
    ]
    if problem.detail == ProblemError.of_broken_rules(problem.errors).detail:
        return ProblemError.of_broken_rules(errors)
    return ProblemError(problem.kind, problem.detail, errors)
