"""`/v1/vehicles`: the vehicles of a shop."""

from functools import partial
from typing import Annotated, Any

import msgspec
from litestar import delete, get, post, put
from litestar.params import Body, QueryParameter

from service.api.access import needs
from service.api.storing import (
    AnyRequest,
    CursorQuery,
    IdempotencyKey,
    IfMatch,
    LimitQuery,
    ThingId,
    answered,
    etag,
    needed_revision,
    once,
    read,
    reply,
    revision_in,
    write,
)
from service.contract.intake_adjusters import check_adjusters
from service.contract.intake_vehicle import vehicle_of
from service.contract.problem_catalogue import CONFLICT, CONTRACT_BROKEN
from service.contract.problems import FieldError, ProblemError, field_error, pointer_to
from service.contract.replies import Reply
from service.contract.solution import Caution
from service.contract.stored_vehicles import (
    StoredVehicle,
    VehicleContent,
    VehicleDetails,
    VehiclePage,
)
from service.contract.vehicle import Vehicle
from service.contract.vin import (
    CheckDigit,
    VinError,
    as_stored,
    check,
    check_digit,
    is_north_american,
)
from service.contract.vin import normal_vin as tidied
from service.store.scope import ShopScope
from service.store.vehicles import VEHICLE_LIST, VEHICLES, VehicleRecord

_DETAILS = msgspec.json.Decoder(VehicleDetails)
_LAYOUT = msgspec.json.Decoder(Vehicle)
_UNIT = QueryParameter(description="Only vehicles that the fleet calls so.", max_length=120)
_VIN = QueryParameter(description="Only vehicles with this VIN.", max_length=40)


@post(
    "/v1/vehicles",
    summary="Store a vehicle",
    **needs(
        "write",
        CONFLICT,
        headers=("ETag", "Location", "Idempotent-Replayed"),
        requires=("Idempotency-Key",),
    ),
)
async def create_vehicle(
    request: AnyRequest,
    data: Annotated[VehicleContent, Body()],
    idempotency_key: IdempotencyKey = None,
) -> Reply[StoredVehicle]:
    """Keep a vehicle under a new id."""
    content = content_of(data)

    def work(scope: ShopScope) -> Any:
        made = VEHICLES.create(scope, content)
        return answered(shown(made), status=201, revision=1, at=f"/v1/vehicles/{made.id}")

    return await once(request, idempotency_key, work)


@put(
    "/v1/vehicles/{id:uuid}",
    summary="Store or replace a vehicle",
    **needs("write", CONFLICT, headers=("ETag",), also=(201,)),
)
async def put_vehicle(
    request: AnyRequest,
    id: ThingId,
    data: Annotated[VehicleContent, Body()],
    if_match: IfMatch = None,
) -> Reply[StoredVehicle]:
    """Keep a vehicle under an id that the client made, so that an app can do so offline.

    Repeating it changes nothing. Replacing another content needs `If-Match`.
    """
    content, revision = content_of(data), revision_in(if_match, required=False)
    record, new = await write(request, lambda scope: VEHICLES.put(scope, id, content, revision))
    return reply(answered(shown(record), status=201 if new else 200, revision=record.revision))


@get("/v1/vehicles", summary="List vehicles", **needs("read"))
async def list_vehicles(
    request: AnyRequest,
    unit_number: Annotated[str | None, _UNIT] = None,
    vin: Annotated[str | None, _VIN] = None,
    cursor: CursorQuery = None,
    limit: LimitQuery = 50,
) -> VehiclePage:
    """Vehicles, newest first; rows that arrive meanwhile neither repeat nor hide one."""
    equal = {"unit_number": unit_number, "vin": vin and as_stored(vin)}
    chosen = {name: value for name, value in equal.items() if value is not None}
    find = partial(VEHICLE_LIST.page, equal=chosen, cursor=cursor, limit=limit)
    page = await read(request, find)
    return VehiclePage(items=[shown(item) for item in page.items], next_cursor=page.next_cursor)


@get("/v1/vehicles/{id:uuid}", summary="Read a vehicle", **needs("read", headers=("ETag",)))
async def get_vehicle(request: AnyRequest, id: ThingId) -> Reply[StoredVehicle]:
    """A vehicle, with its ETag for a change."""
    record = await read(request, lambda scope: VEHICLES.get(scope, id))
    return Reply(shown(record), headers={"ETag": etag(record.revision)})


@delete(
    "/v1/vehicles/{id:uuid}", summary="Delete a vehicle", **needs("write", requires=("If-Match",))
)
async def delete_vehicle(request: AnyRequest, id: ThingId, if_match: IfMatch = None) -> None:
    """Take a vehicle out of the lists; its visits stay, and it can be restored."""
    revision = needed_revision(if_match)
    await write(request, lambda scope: VEHICLES.delete(scope, id, revision))


@post(
    "/v1/vehicles/{id:uuid}/restorations",
    summary="Restore a deleted vehicle",
    status_code=200,
    **needs("write", CONFLICT, headers=("ETag",)),
)
async def restore_vehicle(request: AnyRequest, id: ThingId) -> Reply[StoredVehicle]:
    """Bring a deleted vehicle back; one that is there stays as it is."""
    record = await write(request, lambda scope: VEHICLES.restore(scope, id))
    return Reply(shown(record), headers={"ETag": etag(record.revision)})


def content_of(data: VehicleContent, *at: str | int) -> dict[str, Any]:
    """The columns of a vehicle; ProblemError names every fault of its axles and its VIN.

    `at` is where the content stands in the body.
    """
    errors: list[FieldError] = []
    vehicle_of(data.vehicle, data.length_unit.value, errors)
    check_adjusters(data.vehicle.axles, data.length_unit.value, errors)
    for error in errors:
        error.pointer = pointer_to(*at) + error.pointer.removeprefix("#")
    vin = _vin_of(data, at, errors)
    if errors:
        raise ProblemError.of_broken_rules(errors)
    details = VehicleDetails(
        **{name: getattr(data, name) for name in VehicleDetails.__struct_fields__}
    )
    return {
        "unit_number": data.unit_number,
        "vin": vin,
        "layout": msgspec.json.encode(data.vehicle),
        "details": msgspec.json.encode(details),
    }


def _vin_of(
    data: VehicleContent, at: tuple[str | int, ...], errors: list[FieldError]
) -> str | None:
    if data.vin is None:
        return None
    pointer = pointer_to(*at, "vin")
    try:
        vin = tidied(data.vin)
    except VinError as error:
        hint = "Write the 17 characters as on the plate."
        errors.append(field_error(CONTRACT_BROKEN, pointer, str(error), hint))
        return None
    if data.vin_check_digit and check(vin) is not CheckDigit.RIGHT:
        hint = "Compare it with the plate; leave vin_check_digit out if the rule does not hold."
        errors.append(field_error(CONTRACT_BROKEN, pointer, _wrong_digit(vin), hint))
    return vin


def _wrong_digit(vin: str) -> str:
    wanted = check_digit(vin)
    return f"By 49 CFR 565 the ninth character would be {wanted}, and it is {vin[8]}."


def shown(record: VehicleRecord) -> StoredVehicle:
    """A vehicle as it is answered."""
    details = _DETAILS.decode(record.details)
    return StoredVehicle(
        id=record.id,
        revision=record.revision,
        length_unit=details.length_unit,
        vehicle=_LAYOUT.decode(record.layout),
        unit_number=record.unit_number,
        vin=record.vin,
        vin_check_digit=details.vin_check_digit,
        make=details.make,
        model=details.model,
        model_year=details.model_year,
        customer=details.customer,
        notes=details.notes,
        cautions=_cautions(record.vin),
        created_at=record.created_at,
        updated_at=record.updated_at,
    )


def _cautions(vin: str | None) -> list[Caution]:
    if vin is None or check(vin) is CheckDigit.RIGHT:
        return []
    where = "Check it against the plate."
    if not is_north_american(vin):
        where = "Outside North America no check digit is required; check it against the plate."
    text = f"{_wrong_digit(vin)} {where}"
    return [Caution(code="vin_check_digit", pointer="#/vin", text=text)]
