"""The conditions of a round: its own, else those that its visit states when it is stored.

They are put into the request itself, so that the stored request is what was solved, and cautions,
plan, sheets and a later recomputation all follow from it.
"""

from uuid import UUID

import msgspec
from msgspec.structs import asdict, replace

from service.contract.rounds import RoundRequest
from service.contract.solution import Conditions, SolutionRequest
from service.store.scope import ShopScope
from service.store.visits import VISITS

UNSAID = Conditions()


class _Stating(msgspec.Struct):
    """What states conditions: the details of a visit, or the request of a round."""

    conditions: Conditions | None = None


_stating = msgspec.json.Decoder(_Stating).decode
_members = msgspec.json.Decoder(dict[str, msgspec.Raw]).decode
_encode = msgspec.json.Encoder().encode


def with_conditions(
    scope: ShopScope, visit_id: UUID, data: RoundRequest, sent: bytes
) -> tuple[SolutionRequest, bytes]:
    """The request to solve and its text: as it was sent if it or the visit says all there is.

    A visit that is not there states nothing; storing the round will say that it is missing.
    """
    if _says(data.request.conditions):
        return data.request, sent
    visit = VISITS.find(scope, visit_id)
    stated = None if visit is None else _stating(visit.details).conditions
    if stated is None or not _says(stated):
        return data.request, sent
    return replace(data.request, conditions=stated), _text_with(stated, sent)


def is_stored_as(data: RoundRequest, sent: bytes, stored: bytes) -> bool:
    """Whether a stored request came of this one, with whatever its visit stated at the time."""
    if stored == sent:
        return True
    if _says(data.request.conditions):
        return False
    taken = _stating(stored).conditions
    return taken is not None and stored == _text_with(taken, sent)


def _says(conditions: Conditions | None) -> bool:
    return conditions is not None and conditions != UNSAID


def _text_with(conditions: Conditions, sent: bytes) -> bytes:
    """The text of a request that says no conditions, with these before all that it says.

    The rest stays letter by letter, unless an empty `conditions` has to go.
    """
    said = {name: state for name, state in asdict(conditions).items() if state is not None}
    members = _members(sent)
    if "conditions" not in members:
        return b'{"conditions":%b,%b' % (_encode(said), sent[1:])
    del members["conditions"]
    return _encode({"conditions": said, **members})
