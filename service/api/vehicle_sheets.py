"""A blank worksheet for a stored vehicle."""

import msgspec
from litestar import get

from service.api.access import needs
from service.api.sheet_answers import (
    HTML,
    SHEETS,
    AcceptLanguage,
    accepted,
    page_answer,
    reader_language,
)
from service.api.sheet_queries import PaperQuery, UnitQuery
from service.api.storing import AnyRequest, ThingId, read
from service.api.visit_facts import vehicle_facts
from service.api.worksheets import details_of, form_of
from service.contract.intake_vehicle import vehicle_of
from service.contract.replies import Reply
from service.contract.sheet_details import SheetDetails
from service.contract.stored_vehicles import VehicleDetails
from service.contract.vehicle import Vehicle
from service.drawing.blank import blank_worksheet
from service.drawing.sheet import Blank
from service.store.scope import ShopScope
from service.store.vehicles import VEHICLES, VehicleRecord

_DETAILS = msgspec.json.Decoder(VehicleDetails)
_LAYOUT = msgspec.json.Decoder(Vehicle)
USUAL_FRACTION = 32


@get(
    "/v1/vehicles/{id:uuid}/blank-worksheet",
    summary="Print a vehicle's worksheet to fill in by hand",
    media_type=HTML,
    response_description="The sheet.",
    **needs("read", headers=("Content-Language",), produces=SHEETS),
)
async def get_blank_worksheet(
    request: AnyRequest,
    id: ThingId,
    paper: PaperQuery = None,
    length_unit: UnitQuery = None,
    accept_language: AcceptLanguage = None,
) -> Reply[bytes]:
    """A sheet to take into the yard, as HTML or PDF, in the order the readings are taken."""

    def work(scope: ShopScope) -> tuple[VehicleRecord, SheetDetails]:
        found = VEHICLES.get(scope, id)
        return found, vehicle_facts(scope, found)

    record, facts = await read(request, work)
    unit = _DETAILS.decode(record.details).length_unit
    vehicle = vehicle_of(_LAYOUT.decode(record.layout), unit.value, [])
    form = form_of(reader_language(accept_language), paper, length_unit or unit, USUAL_FRACTION)
    page = blank_worksheet(Blank(vehicle, details_of(facts)), form)
    return await page_answer(page, accepted(request, SHEETS))
