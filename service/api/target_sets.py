"""`/v1/target-sets`: the target sets that a solution can be judged by."""

from functools import cache
from typing import Annotated

from litestar import get
from litestar.params import PathParameter

from service.api.access import brings_key
from service.api.stored_target_sets import own_detail, own_summaries
from service.api.storing import AnyRequest
from service.contract.problem_catalogue import NOT_FOUND
from service.contract.problems import ProblemError, field_error
from service.contract.replies import Reply
from service.contract.target_sets import (
    DecisionRule,
    PublishedTargetRow,
    Quantity,
    TargetSetDetail,
    TargetSetList,
    TargetSetSummary,
    TargetUnit,
)
from service.contract.vehicle import AxleRole
from service.geometry.quantity import quoted
from service.geometry.targets import (
    Target,
    TargetSet,
    UnknownTargetSetError,
    target_set,
    target_sets,
)

_PATH_ID = PathParameter(
    description="Name of a target set, as the list gives it.", min_length=1, max_length=64
)


@get("/v1/target-sets", summary="List the target sets", tags=["Reference data"])
async def list_target_sets(request: AnyRequest) -> TargetSetList:
    """Every built-in target set, and with a key the shop's own, without their rows."""
    if await brings_key(request):
        return TargetSetList(items=[*_listed().items, *await own_summaries(request)])
    return _listed()


@get("/v1/target-sets/{id:str}", summary="Read a target set", tags=["Reference data"])
async def get_target_set(
    request: AnyRequest, id: Annotated[str, _PATH_ID]
) -> Reply[TargetSetDetail]:
    """A target set with its rows, each as its source prints it; with a key, a shop's own too.

    The rows can be sent back unchanged, or changed, as `targets.rows` of a solution request.
    """
    try:
        return Reply(_detail(target_set(id).id))
    except UnknownTargetSetError:
        if await brings_key(request):
            return await own_detail(request, id)
        names = ", ".join(one.id for one in target_sets())
        detail = f"No target set is called {quoted(id)}."
        raise ProblemError(
            NOT_FOUND,
            detail,
            [field_error(NOT_FOUND, "{id}", detail, f"Write one of {names}.")],
        ) from None


@cache
def _listed() -> TargetSetList:
    return TargetSetList(items=[_summary(one) for one in target_sets()])


@cache
def _detail(set_id: str) -> TargetSetDetail:
    """Made once for each built-in set; an unknown one never gets here."""
    one = target_set(set_id)
    summary = _summary(one)
    return TargetSetDetail(
        id=summary.id,
        version=summary.version,
        title=summary.title,
        note=summary.note,
        decision_rule=summary.decision_rule,
        built_in=summary.built_in,
        rows=[_row(target) for target in one.rows],
    )


def _summary(one: TargetSet) -> TargetSetSummary:
    return TargetSetSummary(
        id=one.id,
        version=one.version,
        title=one.title,
        note=one.note,
        decision_rule=DecisionRule(one.decision_rule),
        built_in=True,
    )


def _row(target: Target) -> PublishedTargetRow:
    printed = target.printed
    assert printed is not None, "every built-in row is made from a printed one"
    return PublishedTargetRow(
        quantity=Quantity(printed.quantity),
        unit=TargetUnit(printed.unit),
        nominal=printed.nominal,
        lower=printed.lower,
        upper=printed.upper,
        roles=[AxleRole(role) for role in printed.roles],
        axles=list(printed.axles),
        baseline=printed.baseline,
        source=printed.source,
    )
