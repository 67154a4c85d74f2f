"""`/v1/visits/{id}/line-items` and `/v1/visits/{id}/estimates`: the bill of a stored visit."""

import datetime
from typing import Annotated
from uuid import UUID

from msgspec import Meta

from service.contract.base import ClosedStruct, OpenStruct
from service.contract.line_items import LineItemsAnswer, OtherWork, Waiver
from service.contract.rate_cards import Discount
from service.contract.texts import AwareTime

CardName = Annotated[
    str,
    Meta(
        min_length=1,
        max_length=64,
        pattern=r"^[a-z0-9][a-z0-9-]*\Z",
        description="Name of one of the shop's rate cards.",
    ),
]


class VisitBillRequest(ClosedStruct):
    """What a visit is billed by."""

    rate_card: CardName
    date: datetime.date | None = None
    """Day of the work; the day of the visit, if left out."""
    waivers: Annotated[list[Waiver], Meta(max_length=50)] = []
    other_work: Annotated[list[OtherWork], Meta(max_length=6)] = []
    discount: Discount | None = None
    """In place of the rate card's."""


class VisitBill(OpenStruct):
    """A final list of a visit: it never changes, a later one is its next revision."""

    id: UUID
    visit_id: UUID
    number: int
    """Counts up within the shop; every revision of one list has the same."""
    revision: int
    replaces: UUID | None
    """The revision that this one takes the place of; null for the first."""
    rate_card: str
    rate_card_version: int
    before_round: UUID
    after_round: UUID
    bill: LineItemsAnswer
    created_at: AwareTime


class VisitBillList(OpenStruct):
    """Every revision of a visit's final list, oldest first."""

    items: list[VisitBill]


class VisitEstimate(OpenStruct):
    """What the plan of the round `before` would cost; nothing is stored."""

    rate_card: str
    rate_card_version: int
    before_round: UUID
    bill: LineItemsAnswer
