"""`/v1/visits/{id}/line-items`: what a stored visit costs, by the shop's own rate card.

The estimate is of the newest round `before`; the final list is of what it and the newest round
`after` prove was done. A final list is numbered and immutable; a change is a new revision.
"""

from collections.abc import Iterator
from typing import Annotated, NamedTuple
from uuid import UUID

import msgspec
from litestar import get, post
from litestar.params import Body

from service.api.access import needs
from service.api.bill_answer import line_items_answer
from service.api.bill_table import table_of
from service.api.line_items import CSV, PRODUCED, TABLE, billed_of
from service.api.rate_cards import content_of
from service.api.sheet_answers import VARY, AcceptLanguage, accepted, reader_language
from service.api.storing import Answer, AnyRequest, IdempotencyKey, ThingId, answered, once, read
from service.api.visit_rounds import before_and_after
from service.contract.line_items import LineItemsAnswer, LineItemsRequest, SolvedRound
from service.contract.problem_catalogue import CONFLICT, NOT_FOUND
from service.contract.problems import ProblemError
from service.contract.replies import Reply
from service.contract.visit_line_items import (
    VisitBill,
    VisitBillList,
    VisitBillRequest,
    VisitEstimate,
)
from service.store import line_item_lists
from service.store.errors import Conflict
from service.store.line_item_lists import LineItemListRecord
from service.store.rounds import RoundRecord
from service.store.scope import ShopScope
from service.store.versioned import RATE_CARDS
from service.store.visits import VISITS

_SOLVED = msgspec.json.Decoder(SolvedRound)


class _Document(msgspec.Struct):
    """What a final list rests on, as it is stored."""

    rate_card: str
    rate_card_version: int
    before_round: UUID
    after_round: UUID
    bill: LineItemsAnswer


_DOCUMENT = msgspec.json.Decoder(_Document)


class _Priced(NamedTuple):
    version: int
    before: RoundRecord
    after: RoundRecord | None
    bill: LineItemsAnswer


@post(
    "/v1/visits/{id:uuid}/estimates",
    summary="Estimate what a visit's plan costs",
    status_code=200,
    **needs("read", CONFLICT, headers=("Content-Language",)),
)
async def estimate_visit(
    request: AnyRequest,
    id: ThingId,
    data: Annotated[VisitBillRequest, Body()],
    accept_language: AcceptLanguage = None,
) -> Reply[VisitEstimate]:
    """Price the plan of the newest round `before`; nothing is stored."""
    language = reader_language(accept_language)
    priced = await read(request, lambda scope: _priced(scope, id, data, language, final=False))
    estimate = VisitEstimate(
        rate_card=data.rate_card,
        rate_card_version=priced.version,
        before_round=priced.before.id,
        bill=priced.bill,
    )
    return Reply(estimate, headers={"Content-Language": language, **VARY})


@post(
    "/v1/visits/{id:uuid}/line-items",
    summary="Bill a visit",
    **needs(
        "write",
        CONFLICT,
        headers=("Location", "Idempotent-Replayed"),
        requires=("Idempotency-Key",),
    ),
)
async def bill_visit(
    request: AnyRequest,
    id: ThingId,
    data: Annotated[VisitBillRequest, Body()],
    accept_language: AcceptLanguage = None,
    idempotency_key: IdempotencyKey = None,
) -> Reply[VisitBill]:
    """Bill what the rounds `before` and `after` prove, and keep the list under a number.

    The same list again changes nothing; another one becomes the next revision. The list keeps the
    language that `Accept-Language` chose for its texts, in which it can be handed out.
    """
    language = reader_language(accept_language)

    def work(scope: ShopScope) -> Answer:
        priced = _priced(scope, id, data, language, final=True)
        assert priced.after is not None
        document = _Document(
            data.rate_card, priced.version, priced.before.id, priced.after.id, priced.bill
        )
        record = line_item_lists.add(scope, id, msgspec.json.encode(document))
        made = next(
            one for one in _shown(line_item_lists.of_visit(scope, id)) if one.id == record.id
        )
        at = f"/v1/visits/{id}/line-items/{record.id}"
        return answered(made, status=201, at=at)

    return await once(request, idempotency_key, work)


@get("/v1/visits/{id:uuid}/line-items", summary="List a visit's bills", **needs("read"))
async def list_visit_bills(request: AnyRequest, id: ThingId) -> VisitBillList:
    """Every revision of the visit's final list, oldest first."""
    found = await read(request, lambda scope: line_item_lists.of_visit(scope, id))
    return VisitBillList(items=list(_shown(found)))


@get(
    "/v1/visits/{id:uuid}/line-items/{list_id:uuid}",
    summary="Read a bill",
    **needs("read", produces=PRODUCED),
)
async def get_visit_bill(request: AnyRequest, id: ThingId, list_id: ThingId) -> Reply[VisitBill]:
    """One revision as it was made; with `Accept: text/csv` its lines as a table."""
    found = await read(request, lambda scope: line_item_lists.of_visit(scope, id))
    bill = next((one for one in _shown(found) if one.id == list_id), None)
    if bill is None:
        raise ProblemError(NOT_FOUND, "No such final list of line items.")
    headers = {"Content-Language": bill.bill.language, "Vary": "Accept"}
    if accepted(request, PRODUCED) == CSV:
        return Reply(table_of(bill.bill), media_type=TABLE, headers=headers)
    return Reply(bill, headers=headers)


def _priced(
    scope: ShopScope, id: UUID, data: VisitBillRequest, language: str, *, final: bool
) -> _Priced:
    visit = VISITS.get(scope, id)
    card = RATE_CARDS.newest(scope, data.rate_card)
    before, after = before_and_after(scope, id)
    if before is None:
        raise Conflict("The visit has no round `before`.")
    if final and after is None:
        raise Conflict(
            "The visit has no round `after` that is later than its newest round `before`; only "
            "that proves what was done."
        )
    wanted = LineItemsRequest(
        rate_card=content_of(card).rate_card,
        before=_SOLVED.decode(before.solution),
        after=_SOLVED.decode(after.solution) if final and after is not None else None,
        date=data.date or visit.visited_at.date(),
        waivers=data.waivers,
        other_work=data.other_work,
        discount=data.discount,
    )
    return _Priced(card.version, before, after, line_items_answer(*billed_of(wanted, language)))


def _shown(records: list[LineItemListRecord]) -> Iterator[VisitBill]:
    """Final lists as they are answered, each naming the one before it."""
    earlier: UUID | None = None
    for record in records:
        document = _DOCUMENT.decode(record.document)
        yield VisitBill(
            id=record.id,
            visit_id=record.visit_id,
            number=record.number,
            revision=record.revision,
            replaces=earlier,
            rate_card=document.rate_card,
            rate_card_version=document.rate_card_version,
            before_round=document.before_round,
            after_round=document.after_round,
            bill=document.bill,
            created_at=record.created_at,
        )
        earlier = record.id
