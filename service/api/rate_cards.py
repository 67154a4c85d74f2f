"""`/v1/rate-cards`: a shop's own rate cards; each version stays for what was billed by it."""

from typing import Annotated, Any

import msgspec
from litestar import delete, get, post, put
from litestar.params import Body, PathParameter

from service.api.access import needs
from service.api.bill_intake import rate_card_of
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
from service.contract.problem_catalogue import CONFLICT
from service.contract.replies import Reply
from service.contract.stored_rate_cards import RateCardContent, RateCardDetail, RateCardList
from service.store.scope import ShopScope
from service.store.versioned import RATE_CARDS, Version

CardName = Annotated[
    str,
    PathParameter(
        description="Name of the card: small letters, digits and hyphens.",
        min_length=1,
        max_length=64,
        pattern="^[a-z0-9][a-z0-9-]*$",
    ),
]
CardVersion = Annotated[int, PathParameter(description="Version of the card.", ge=1, le=2**53)]

_CONTENT = msgspec.json.Decoder(RateCardContent)


@put(
    "/v1/rate-cards/{id:str}",
    summary="Store or change a rate card",
    **needs("write", CONFLICT, headers=("ETag",), also=(201,)),
)
async def put_rate_card(
    request: AnyRequest,
    id: CardName,
    data: Annotated[RateCardContent, Body()],
    if_match: IfMatch = None,
) -> Reply[RateCardDetail]:
    """Store a card under a name; another content is the next version.

    Repeating it changes nothing. A change needs `If-Match`. Earlier versions stay.
    """
    rate_card_of(data.rate_card, "rate_card")
    document, revision = msgspec.json.encode(data), revision_in(if_match, required=False)

    def work(scope: ShopScope) -> Any:
        version, new = RATE_CARDS.put(scope, id, document, revision)
        head = RATE_CARDS.head(scope, id)
        status = 201 if new and version.version == 1 else 200
        return answered(detail(version), status=status, revision=head.revision)

    return reply(await write(request, work))


@get("/v1/rate-cards", summary="List the rate cards", **needs("read"))
async def list_rate_cards(request: AnyRequest) -> RateCardList:
    """The newest version of each of the shop's cards that is offered."""
    found = await read(request, RATE_CARDS.all)
    return RateCardList(items=[detail(version) for version in found])


@get("/v1/rate-cards/{id:str}", summary="Read a rate card", **needs("read", headers=("ETag",)))
async def get_rate_card(request: AnyRequest, id: CardName) -> Reply[RateCardDetail]:
    """The newest version, with its ETag for a change."""

    def work(scope: ShopScope) -> tuple[Version, int]:
        return RATE_CARDS.newest(scope, id), RATE_CARDS.head(scope, id).revision

    version, revision = await read(request, work)
    return Reply(detail(version), headers={"ETag": etag(revision)})


@get(
    "/v1/rate-cards/{id:str}/versions/{number:int}",
    summary="Read a version of a rate card",
    **needs("read"),
)
async def get_rate_card_version(
    request: AnyRequest, id: CardName, number: CardVersion
) -> RateCardDetail:
    """One version as it was, of a withdrawn card too: stored bills go on naming it."""
    return detail(await read(request, lambda scope: RATE_CARDS.version(scope, id, number)))


@delete(
    "/v1/rate-cards/{id:str}",
    summary="Withdraw a rate card",
    **needs("write", requires=("If-Match",)),
)
async def withdraw_rate_card(request: AnyRequest, id: CardName, if_match: IfMatch = None) -> None:
    """Offer the card no longer; its versions stay."""
    revision = needed_revision(if_match)
    await write(request, lambda scope: RATE_CARDS.withdraw(scope, id, revision))


@post(
    "/v1/rate-cards/{id:str}/restorations",
    summary="Offer a withdrawn rate card again",
    status_code=200,
    **needs("write", headers=("ETag",)),
)
async def restore_rate_card(request: AnyRequest, id: CardName) -> Reply[RateCardDetail]:
    """Bring a withdrawn card back; one that is offered stays as it is."""

    def work(scope: ShopScope) -> tuple[Version, int]:
        version = RATE_CARDS.restore(scope, id)
        return version, RATE_CARDS.head(scope, id).revision

    version, revision = await write(request, work)
    return Reply(detail(version), headers={"ETag": etag(revision)})


def content_of(version: Version) -> RateCardContent:
    """A stored card as it was written."""
    return _CONTENT.decode(version.document)


def detail(version: Version) -> RateCardDetail:
    """A version as it is answered."""
    content = content_of(version)
    return RateCardDetail(
        id=version.name,
        version=version.version,
        title=content.title,
        rate_card=content.rate_card,
        created_at=version.created_at,
    )
