"""`/v1/visits/{id}/worksheets`: sheets of a visit that were issued under a number."""

from typing import Annotated
from uuid import UUID

from msgspec import Meta

from service.contract.base import ClosedStruct, OpenStruct
from service.contract.rounds import RoundLabel
from service.contract.sheet_details import SheetDetails
from service.contract.texts import AwareTime


class VisitWorksheetRequest(ClosedStruct):
    """What a worksheet of a visit is issued with."""

    details: SheetDetails | None = None
    """The shop's own words, in place of what is stored of vehicle and visit."""
    round: RoundLabel | None = None
    """One round alone; else the rounds before and after the work."""


class VisitWorksheet(OpenStruct):
    """A worksheet that was issued: it never changes."""

    id: UUID
    visit_id: UUID
    number: int
    """Counts up within the shop; printed on the sheet unless `details.number` takes its place."""
    sha256: Annotated[str, Meta(pattern="^[0-9a-f]{64}$")]
    """Hash of the data that the sheet states, as the sheet shows it and carries it along."""
    before_round: UUID
    """The first round, or the only one."""
    after_round: UUID | None
    created_at: AwareTime


class VisitWorksheetList(OpenStruct):
    """The worksheets of a visit, oldest first."""

    items: list[VisitWorksheet]
