"""Plan view and worksheets of a stored visit."""

from typing import Annotated, NamedTuple
from uuid import UUID

from litestar import get, post
from litestar.params import Body

from service.api.access import needs
from service.api.drawings import plan_view_of
from service.api.sheet_answers import (
    HTML,
    PICTURES,
    SHEETS,
    SVG,
    AcceptLanguage,
    accepted,
    page_answer,
    picture_answer,
    reader_language,
)
from service.api.sheet_queries import PaperQuery, RoundQuery, UnitQuery, WidthQuery
from service.api.solved_rounds import SolvedRound
from service.api.storing import (
    Answer,
    AnyRequest,
    IdempotencyKey,
    ThingId,
    answered,
    once,
    read,
    told_as_problems,
)
from service.api.visit_facts import visit_checks, visit_facts, with_own_words
from service.api.visit_rounds import shown_rounds, solved_again
from service.api.worksheets import details_of, form_of, sheet_of
from service.contract.problem_catalogue import CONFLICT
from service.contract.replies import Reply
from service.contract.sheet_details import Paper, SheetDetails
from service.contract.vehicle import LengthUnit
from service.contract.visit_sheets import (
    VisitWorksheet,
    VisitWorksheetList,
    VisitWorksheetRequest,
)
from service.drawing.content import content_bytes, read_content
from service.drawing.sheet import Check, Form, Sheet
from service.drawing.worksheet import worksheet
from service.locale.catalogue import catalogue
from service.store import worksheets
from service.store.rounds import RoundRecord
from service.store.scope import ShopScope
from service.store.visits import VISITS
from service.store.worksheets import WorksheetRecord

LANGUAGE = ("Content-Language",)


class _Kept(NamedTuple):
    """What a sheet of a visit is made from."""

    rounds: list[RoundRecord]
    facts: SheetDetails
    checks: tuple[Check, ...]


@get(
    "/v1/visits/{id:uuid}/plan-view",
    summary="Draw a visit's rounds in plan",
    media_type=SVG,
    response_description="The plan view.",
    **needs("read", CONFLICT, headers=LANGUAGE, produces=PICTURES),
)
async def get_visit_plan_view(
    request: AnyRequest,
    id: ThingId,
    round_label: RoundQuery = None,
    length_unit: UnitQuery = None,
    width: WidthQuery = 1200,
    accept_language: AcceptLanguage = None,
) -> Reply[bytes]:
    """The vehicle seen from above, as SVG or PNG: before and after the work side by side."""
    kept = await read(request, lambda scope: _kept(scope, id, round_label))
    solved = _solved(kept)
    language = reader_language(accept_language)
    unit = (length_unit or solved[0].request.length_unit).value
    number = kept.facts.unit_number
    title = f"{catalogue(language).say('fact.unit_number')} {number}" if number else ""
    picture = plan_view_of(solved, language, unit, title)
    return await picture_answer(picture, accepted(request, PICTURES), language, width)


@get(
    "/v1/visits/{id:uuid}/worksheet",
    summary="Print a visit's worksheet",
    media_type=HTML,
    response_description="The sheet.",
    **needs("read", CONFLICT, headers=LANGUAGE, produces=SHEETS),
)
async def get_visit_worksheet(
    request: AnyRequest,
    id: ThingId,
    round_label: RoundQuery = None,
    paper: PaperQuery = None,
    length_unit: UnitQuery = None,
    accept_language: AcceptLanguage = None,
) -> Reply[bytes]:
    """The visit as it stands now, as HTML or PDF; nothing is stored.

    It is numbered by its hash. `POST /v1/visits/{id}/worksheets` issues it under a number.
    """
    kept = await read(request, lambda scope: _kept(scope, id, round_label))
    solved = _solved(kept)
    sheet = sheet_of(solved, details_of(kept.facts), kept.checks)
    form = _form(sheet, paper, length_unit, accept_language)
    return await page_answer(worksheet(sheet, form), accepted(request, SHEETS))


@post(
    "/v1/visits/{id:uuid}/worksheets",
    summary="Issue a visit's worksheet",
    **needs(
        "write",
        CONFLICT,
        headers=("Location", "Idempotent-Replayed"),
        requires=("Idempotency-Key",),
    ),
)
async def issue_visit_worksheet(
    request: AnyRequest,
    id: ThingId,
    data: Annotated[VisitWorksheetRequest, Body()],
    idempotency_key: IdempotencyKey = None,
) -> Reply[VisitWorksheet]:
    """Keep what the sheet states under the shop's next number, with its hash; it never changes.

    The same sheet again is the same number. What is stored of vehicle and visit stands on it as
    it is now, whatever becomes of it later.
    """

    def work(scope: ShopScope) -> Answer:
        record = _issued(scope, id, data)
        at = f"/v1/visits/{id}/worksheets/{record.id}"
        return answered(_shown(record), status=201, at=at)

    return await once(request, idempotency_key, work)


@get(
    "/v1/visits/{id:uuid}/worksheets",
    summary="List a visit's issued worksheets",
    **needs("read"),
)
async def list_visit_worksheets(request: AnyRequest, id: ThingId) -> VisitWorksheetList:
    """Number and hash of every sheet that was issued, to compare a printed one with."""
    found = await read(request, lambda scope: worksheets.of_visit(scope, id))
    return VisitWorksheetList(items=[_shown(record) for record in found])


@get(
    "/v1/visits/{id:uuid}/worksheets/{worksheet_id:uuid}",
    summary="Print an issued worksheet",
    media_type=HTML,
    response_description="The sheet.",
    **needs("read", headers=LANGUAGE, produces=SHEETS),
)
async def get_issued_worksheet(
    request: AnyRequest,
    id: ThingId,
    worksheet_id: ThingId,
    paper: PaperQuery = None,
    length_unit: UnitQuery = None,
    accept_language: AcceptLanguage = None,
) -> Reply[bytes]:
    """The sheet as it was issued, as HTML or PDF; language, paper and unit are the reader's."""
    record = await read(request, lambda scope: worksheets.get(scope, id, worksheet_id))
    sheet = read_content(Sheet, record.content)
    form = _form(sheet, paper, length_unit, accept_language)
    return await page_answer(worksheet(sheet, form), accepted(request, SHEETS))


def _kept(scope: ShopScope, visit_id: UUID, label: str | None) -> _Kept:
    visit = VISITS.get(scope, visit_id)
    found = shown_rounds(scope, visit_id, label)
    return _Kept(found, visit_facts(scope, visit), visit_checks(visit))


def _solved(kept: _Kept) -> list[SolvedRound]:
    with told_as_problems():
        return solved_again(kept.rounds)


def _issued(scope: ShopScope, visit_id: UUID, data: VisitWorksheetRequest) -> WorksheetRecord:
    kept = _kept(scope, visit_id, data.round)
    details = details_of(with_own_words(kept.facts, data.details))
    sheet = sheet_of(solved_again(kept.rounds), details, kept.checks)

    def content_under(number: int) -> bytes:
        numbered = details._replace(number=details.number or str(number))
        return content_bytes(sheet._replace(details=numbered))

    after = kept.rounds[1].id if len(kept.rounds) == 2 else None
    return worksheets.add(scope, visit_id, (kept.rounds[0].id, after), content_under)


def _form(
    sheet: Sheet, paper: Paper | None, unit: LengthUnit | None, accept_language: str | None
) -> Form:
    first = sheet.before
    language = reader_language(accept_language)
    return form_of(language, paper, unit or LengthUnit(first.unit), first.fraction)


def _shown(record: WorksheetRecord) -> VisitWorksheet:
    return VisitWorksheet(
        id=record.id,
        visit_id=record.visit_id,
        number=record.number,
        sha256=record.sha256,
        before_round=record.before_round,
        after_round=record.after_round,
        created_at=record.created_at,
    )
