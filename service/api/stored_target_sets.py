"""A shop's own target sets: written as versions, each of which stays for what it judged."""

from typing import Annotated, Any

import msgspec
from litestar import delete, get, post, put
from litestar.params import Body, PathParameter

from service.api.access import needs
from service.api.own_target_sets import OwnTargetSet, read_own
from service.api.storing import (
    AnyRequest,
    IfMatch,
    answered,
    etag,
    needed_revision,
    read,
    reply,
    revision_in,
    write,
)
from service.contract.intake_targets import inline_set
from service.contract.own_target_sets import TargetSetContent
from service.contract.problem_catalogue import CONFLICT
from service.contract.problems import FieldError, ProblemError
from service.contract.replies import Reply
from service.contract.solution import InlineTargets
from service.contract.target_sets import TargetSetDetail, TargetSetSummary, published
from service.geometry.targets import UnknownTargetSetError, target_set
from service.store.errors import Conflict
from service.store.scope import ShopScope
from service.store.versioned import TARGET_SETS, Version

SetName = Annotated[
    str,
    PathParameter(
        description="Name of the set: small letters, digits and hyphens.",
        min_length=1,
        max_length=64,
        pattern="^[a-z0-9][a-z0-9-]*$",
    ),
]
VersionNumber = Annotated[int, PathParameter(description="Version of the set.", ge=1, le=2**53)]


@put(
    "/v1/target-sets/{id:str}",
    summary="Store or change a target set of one's own",
    **needs("write", CONFLICT, headers=("ETag",), also=(201,)),
)
async def put_target_set(
    request: AnyRequest,
    id: SetName,
    data: Annotated[TargetSetContent, Body()],
    if_match: IfMatch = None,
) -> Reply[TargetSetDetail]:
    """Store a set under a name that no built-in set has; another content is the next version.

    Repeating it changes nothing. A change needs `If-Match`. Earlier versions stay.
    """
    document, revision = _document(data), revision_in(if_match, required=False)

    def work(scope: ShopScope) -> Any:
        _refuse_built_in(id)
        version, new = TARGET_SETS.put(scope, id, document, revision)
        head = TARGET_SETS.head(scope, id)
        status = 201 if new and version.version == 1 else 200
        return answered(detail(version), status=status, revision=head.revision)

    return reply(await write(request, work))


@get(
    "/v1/target-sets/{id:str}/versions/{number:int}",
    summary="Read a version of one's own target set",
    **needs("read"),
)
async def get_target_set_version(
    request: AnyRequest, id: SetName, number: VersionNumber
) -> TargetSetDetail:
    """One version as it was, of a withdrawn set too: stored rounds go on naming it."""
    return detail(await read(request, lambda scope: TARGET_SETS.version(scope, id, number)))


@delete(
    "/v1/target-sets/{id:str}",
    summary="Withdraw a target set",
    **needs("write", CONFLICT, requires=("If-Match",)),
)
async def withdraw_target_set(request: AnyRequest, id: SetName, if_match: IfMatch = None) -> None:
    """Offer the set no longer; its versions stay for the rounds that were judged by them."""
    revision = needed_revision(if_match)

    def work(scope: ShopScope) -> None:
        _refuse_built_in(id)
        TARGET_SETS.withdraw(scope, id, revision)

    await write(request, work)


@post(
    "/v1/target-sets/{id:str}/restorations",
    summary="Offer a withdrawn target set again",
    status_code=200,
    **needs("write", headers=("ETag",)),
)
async def restore_target_set(request: AnyRequest, id: SetName) -> Reply[TargetSetDetail]:
    """Bring a withdrawn set back; one that is offered stays as it is."""

    def work(scope: ShopScope) -> tuple[Version, int]:
        version = TARGET_SETS.restore(scope, id)
        return version, TARGET_SETS.head(scope, id).revision

    version, revision = await write(request, work)
    return Reply(detail(version), headers={"ETag": etag(revision)})


async def own_summaries(request: AnyRequest) -> list[TargetSetSummary]:
    """The caller's own sets."""
    found = await read(request, TARGET_SETS.all)
    return [_summary(version) for version in found]


async def own_detail(request: AnyRequest, id: str) -> Reply[TargetSetDetail]:
    """The newest version of the caller's own set, with its ETag for a change."""

    def work(scope: ShopScope) -> tuple[Version, int]:
        return TARGET_SETS.newest(scope, id), TARGET_SETS.head(scope, id).revision

    version, revision = await read(request, work)
    return Reply(detail(version), headers={"ETag": etag(revision)})


def _refuse_built_in(name: str) -> None:
    try:
        target_set(name)
    except UnknownTargetSetError:
        return
    raise Conflict(f"{name} is a built-in set, which nobody changes; take another name.")


def _document(data: TargetSetContent) -> bytes:
    errors: list[FieldError] = []
    inline_set(InlineTargets(rows=data.rows, decision_rule=data.decision_rule), errors)
    for error in errors:
        error.pointer = error.pointer.replace("#/targets/", "#/", 1)
    if errors:
        raise ProblemError.of_broken_rules(errors)
    own = OwnTargetSet(data.title, data.note or "", data.decision_rule, data.rows)
    return msgspec.json.encode(own)


def _summary(version: Version) -> TargetSetSummary:
    own = read_own(version.document)
    return TargetSetSummary(
        id=version.name,
        version=version.version,
        title=own.title,
        note=own.note,
        decision_rule=own.decision_rule,
        built_in=False,
    )


def detail(version: Version) -> TargetSetDetail:
    """A version of a shop's own set as it is answered."""
    own = read_own(version.document)
    return TargetSetDetail(
        id=version.name,
        version=version.version,
        title=own.title,
        note=own.note,
        decision_rule=own.decision_rule,
        built_in=False,
        rows=[published(row) for row in own.rows],
    )
