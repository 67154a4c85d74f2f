"""`/v1/worksheets` and `/v1/blank-worksheets`: sheets to print; nothing is stored."""

from collections.abc import Iterator, Sequence
from typing import Annotated, Any, cast

from litestar import Request, post
from litestar.params import Body

from service.api.bill_intake import round_of
from service.api.sheet_answers import (
    HTML,
    SHEETS,
    AcceptLanguage,
    accepted,
    page_answer,
    reader_language,
)
from service.api.solved_rounds import SolvedRound, solved_rounds
from service.api.subjects import session_of
from service.contract.intake_adjusters import check_adjusters
from service.contract.intake_errors import refuse
from service.contract.intake_vehicle import vehicle_of
from service.contract.line_items import SolvedRound as BilledRound
from service.contract.problem_catalogue import UNAVAILABLE
from service.contract.problems import FieldError
from service.contract.replies import Reply
from service.contract.sheet_details import Paper, SheetDetails
from service.contract.solution import Solution
from service.contract.vehicle import LengthUnit
from service.contract.worksheets import BlankWorksheetRequest, WorksheetRequest
from service.drawing.blank import blank_worksheet
from service.drawing.page import Page
from service.drawing.sheet import FACTS, Blank, Check, Details, Done, Form, Sheet
from service.drawing.worksheet import worksheet
from service.pricing.derivation import work_from_rounds
from service.pricing.operations import OPERATIONS

OPT = {
    "produces": SHEETS,
    "problems": (UNAVAILABLE,),
    "headers": ("Content-Language",),
}


@post(
    "/v1/worksheets",
    summary="Print a worksheet",
    status_code=200,
    media_type=HTML,
    response_description="The sheet.",
    opt=OPT,
)
async def print_worksheet(
    data: Annotated[WorksheetRequest, Body()],
    request: Request[Any, Any, Any],
    accept_language: AcceptLanguage = None,
) -> Reply[bytes]:
    """Readings and a shop's words in; a sheet with readings, verdicts and plan view out.

    As one HTML file that prints and reads on a phone, or as PDF, by `Accept`; in English, Spanish
    or French, by `Accept-Language`. The sheet shows the SHA-256 of the data that it states, which
    it carries along: in the element `content` of the HTML, attached as `content.json` to the PDF.
    Nothing is stored, so a repeated request needs no idempotency key.
    """
    rounds = solved_rounds(data.before, data.after)
    form = form_of(
        reader_language(accept_language),
        data.paper,
        data.length_unit or data.before.length_unit,
        data.before.fraction,
    )
    return await page_answer(worksheet_of(rounds, data.details, form), accepted(request, SHEETS))


@post(
    "/v1/blank-worksheets",
    summary="Print a worksheet to fill in by hand",
    status_code=200,
    media_type=HTML,
    response_description="The sheet.",
    opt=OPT,
)
async def print_blank_worksheet(
    data: Annotated[BlankWorksheetRequest, Body()],
    request: Request[Any, Any, Any],
    accept_language: AcceptLanguage = None,
) -> Reply[bytes]:
    """A vehicle in; a sheet to take into the yard out, as HTML or PDF.

    It leaves room for the readings that the vehicle can give, in the order they are taken: checks
    first, rolled in straight, then where the axles stand and aim, toe last.
    """
    errors: list[FieldError] = []
    vehicle = vehicle_of(data.vehicle, data.length_unit.value, errors)
    check_adjusters(data.vehicle.axles, data.length_unit.value, errors)
    refuse(errors)
    kinds = tuple(kind.value for kind in data.readings)
    form = form_of(reader_language(accept_language), data.paper, data.length_unit, data.fraction)
    page = blank_worksheet(Blank(vehicle, details_of(data.details), kinds), form)
    return await page_answer(page, accepted(request, SHEETS))


def worksheet_of(rounds: Sequence[SolvedRound], details: SheetDetails | None, form: Form) -> Page:
    """The sheet of one round, or of the first and the last of a visit."""
    return worksheet(sheet_of(rounds, details_of(details)), form)


def sheet_of(
    rounds: Sequence[SolvedRound], details: Details, checks: Sequence[Check] = ()
) -> Sheet:
    """What a sheet of one round or two states, with the work that two rounds prove."""
    before = session_of(rounds[0].request, rounds[0].solution)
    if len(rounds) == 1:
        return Sheet(before, None, details, (), tuple(checks))
    after = session_of(rounds[1].request, rounds[1].solution)
    done = proven_work(rounds[0].solution, rounds[1].solution)
    return Sheet(before, after, details, tuple(done), tuple(checks))


def proven_work(before: Solution, after: Solution) -> Iterator[Done]:
    """What was done by the rules of a bill: what the second round proves of the first one."""
    first, second = (round_of(cast(BilledRound, one)) for one in (before, after))
    account = work_from_rounds(first.findings, second.findings, first.steps, first.axles)
    for work in account.works:
        on_axle = OPERATIONS[work.operation].scope == "axle"
        yield Done(work.operation, work.axles[0] if on_axle else None, work.side)


def form_of(language: str, paper: Paper | None, unit: LengthUnit, fraction: int) -> Form:
    """How the sheet is written; paper follows the unit where it is not stated."""
    usual = Paper.LETTER if unit is LengthUnit.INCH else Paper.A4
    return Form(language, (paper or usual).value, unit.value, fraction)


def details_of(details: SheetDetails | None) -> Details:
    """A shop's words as the sheet takes them."""
    if details is None:
        return Details()
    facts = ((name, getattr(details, name)) for name in FACTS)
    return Details(
        details.number or "",
        details.shop or "",
        tuple(details.shop_lines),
        tuple((name, text) for name, text in facts if text),
        tuple(details.work_done),
        details.notes or "",
        details.closing or "",
    )
