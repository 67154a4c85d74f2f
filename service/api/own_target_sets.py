"""A shop's own target sets as the solver takes them: rows in the request, their name beside it."""

from typing import NamedTuple

import msgspec

from service.contract.solution import InlineTargets, SolutionRequest
from service.contract.target_sets import DecisionRule, TargetRow
from service.geometry.targets import UnknownTargetSetError, target_set
from service.store.errors import NotFound
from service.store.scope import ShopScope
from service.store.versioned import TARGET_SETS


class OwnTargetSet(msgspec.Struct):
    """A shop's own set as it is stored."""

    title: str
    note: str
    decision_rule: DecisionRule
    rows: list[TargetRow]


class Judged(NamedTuple):
    """A request that the solver can take, and what it is judged by."""

    request: SolutionRequest
    name: str | None
    version: int | None


_OWN = msgspec.json.Decoder(OwnTargetSet)


def read_own(document: bytes) -> OwnTargetSet:
    """A shop's own set from its stored document."""
    return _OWN.decode(document)


def judged(scope: ShopScope, request: SolutionRequest, version: int | None = None) -> Judged:
    """The request with a shop's own set written out as rows; `version` is a stored round's.

    A name that nobody knows goes through, for the solver to say so with its pointer.
    """
    if request.targets is not None:
        return Judged(request, None, None)
    name = request.target_set or "common-practice"
    try:
        return Judged(request, name, target_set(name).version)
    except UnknownTargetSetError:
        pass
    try:
        number = version or TARGET_SETS.head(scope, name).version
        own = read_own(TARGET_SETS.version(scope, name, number).document)
    except NotFound:
        return Judged(request, None, None)
    targets = InlineTargets(rows=own.rows, decision_rule=own.decision_rule)
    return Judged(msgspec.structs.replace(request, target_set=None, targets=targets), name, number)
