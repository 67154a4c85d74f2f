"""`/v1/line-items`: what the work on a vehicle costs by a shop's rate card; nothing is stored."""

from typing import Annotated, Any, NamedTuple

from litestar import Request, post
from litestar.params import Body

from service.api.bill_answer import line_items_answer
from service.api.bill_intake import (
    SolvedRound,
    discount_of,
    other_work_of,
    rate_card_of,
    refused,
    round_of,
    waivers_of,
)
from service.api.sheet_answers import VARY, AcceptLanguage, accepted, reader_language
from service.contract.line_items import BillStage, LineItemsAnswer, LineItemsRequest
from service.contract.replies import Reply
from service.contract.strict import JSON
from service.locale.catalogue import ENGLISH
from service.pricing.bill import Bill, bill
from service.pricing.comparison import Comparison, compare
from service.pricing.derivation import work_from_plan, work_from_rounds
from service.pricing.errors import PricingError
from service.pricing.spreadsheet import comma_separated
from service.pricing.work import Account, with_other_work

CSV = "text/csv"
TABLE = f"{CSV}; charset=utf-8; header=present"
PRODUCED = (JSON, CSV)


class Billed(NamedTuple):
    """A bill, and how it compares with the estimate of the plan where there was one."""

    stage: BillStage
    bill: Bill
    comparison: Comparison | None


@post(
    "/v1/line-items",
    summary="Price the work on a vehicle",
    status_code=200,
    opt={"produces": PRODUCED, "headers": ("Content-Language",)},
    sync_to_thread=False,
)
def price_work(
    data: Annotated[LineItemsRequest, Body()],
    request: Request[Any, Any, Any],
    accept_language: AcceptLanguage = None,
) -> Reply[LineItemsAnswer]:
    """A rate card and a solution with its plan in, invoice lines out.

    With the solution after the work as well, only what the two prove is billed: what was outside
    its limits before and is within them now. Nothing conforming is billed as corrected, and one
    operation on one axle is one line, however many findings it cured. The lines add up to the
    total, to the minor unit. With `Accept: text/csv` they come as a table for a spreadsheet.
    Texts are in English, Spanish or French, by `Accept-Language`. Nothing is stored, so a
    repeated request needs no idempotency key.
    """
    billed = billed_of(data, reader_language(accept_language))
    headers = {"Content-Language": billed.bill.language, **VARY}
    if accepted(request, PRODUCED) == CSV:
        table = comma_separated(billed.bill).encode()
        return Reply(table, media_type=TABLE, headers=headers)
    return Reply(line_items_answer(*billed), headers=headers)


def billed_of(data: LineItemsRequest, language: str = ENGLISH) -> Billed:
    """Price a request, texts in `language`; raises ProblemError that names what is wrong."""
    card = rate_card_of(data.rate_card, "rate_card")
    discount = discount_of(data.discount, card.currency)
    waivers, others = waivers_of(data.waivers), other_work_of(data.other_work)
    before = round_of(data.before, language)

    def priced(account: Account) -> Bill:
        account = with_other_work(account, others) if others else account
        return bill(
            card, account, waivers=waivers, discount=discount, day=data.date, language=language
        )

    try:
        if data.after is None:
            return Billed(BillStage.ESTIMATE, priced(_planned(before)), None)
        after = round_of(data.after, language)
        final = priced(
            work_from_rounds(before.findings, after.findings, before.steps, before.axles)
        )
        told = compare(priced(_planned(before)), final) if before.steps else None
        return Billed(BillStage.FINAL, final, told)
    except PricingError as error:
        raise refused(error) from None


def _planned(before: SolvedRound) -> Account:
    return work_from_plan(before.findings, before.steps, before.axles)
