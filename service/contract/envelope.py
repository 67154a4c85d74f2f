"""Takes a body with a list of many apart into the texts of its items, each to be read by itself.

Only what is around the items is looked at.
"""

from collections.abc import Sequence

import msgspec

from service.contract.problem_catalogue import DUPLICATE_KEY
from service.contract.problems import ProblemError, field_error, pointer_to


class _Envelope(msgspec.Struct, forbid_unknown_fields=True):
    items: list[msgspec.Raw]


_SHORTEST = b'{"items":[]}'
"""What at least stands around the items."""

_decode = msgspec.json.Decoder(_Envelope).decode

UNREADABLE = (msgspec.DecodeError, UnicodeError, RecursionError)
"""What decoding raises for what it cannot read."""


def texts_in(body: bytes) -> list[bytes]:
    """The texts of the items; raises one of `UNREADABLE` where there is no list of them alone."""
    return [bytes(item) for item in _decode(body).items]


def refuse_second_list(body: bytes, found: Sequence[bytes]) -> None:
    """Refuse a body whose list stands in it twice, of which the decoder keeps the last, not empty.

    Around the items there are then more than the two quotation marks of one "items". A body that is
    as short as its items let it be has no room for a second.
    """
    if len(body) == len(_SHORTEST) + sum(map(len, found)) + len(found) - 1:
        return
    if body.count(b'"') - sum(text.count(b'"') for text in found) != 2:
        detail, hint = 'The key "items" stands more than once.', "Keep one of them."
        error_of = field_error(DUPLICATE_KEY, pointer_to("items"), detail, hint)
        raise ProblemError(DUPLICATE_KEY, detail, [error_of])
