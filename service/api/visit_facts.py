"""What is stored of a vehicle and a visit, in the words of a sheet."""

import msgspec

from service.contract.sheet_details import SheetDetails
from service.contract.stored_vehicles import VehicleDetails
from service.contract.visits import VisitDetails
from service.drawing.sheet import Check
from service.store.scope import ShopScope
from service.store.shops import name_of
from service.store.vehicles import VEHICLES, VehicleRecord
from service.store.visits import VisitRecord

_VEHICLE = msgspec.json.Decoder(VehicleDetails)
_VISIT = msgspec.json.Decoder(VisitDetails)


def vehicle_facts(scope: ShopScope, vehicle: VehicleRecord) -> SheetDetails:
    """The shop's name and what it keeps of a vehicle."""
    kept = _VEHICLE.decode(vehicle.details)
    parts = (kept.make, kept.model, None if kept.model_year is None else str(kept.model_year))
    return SheetDetails(
        shop=name_of(scope) or None,
        customer=kept.customer,
        unit_number=vehicle.unit_number,
        vin=vehicle.vin,
        make=" ".join(part for part in parts if part) or None,
    )


def visit_facts(scope: ShopScope, visit: VisitRecord) -> SheetDetails:
    """The same with what it keeps of a visit; its date is that of UTC."""
    vehicle = VEHICLES.find(scope, visit.vehicle_id)
    facts = SheetDetails() if vehicle is None else vehicle_facts(scope, vehicle)
    kept = _VISIT.decode(visit.details)
    facts.odometer = _odometer(visit)
    facts.date = visit.visited_at.date().isoformat()
    facts.technician = kept.technician
    facts.complaint = kept.complaint
    facts.notes = kept.notes
    return facts


def visit_checks(visit: VisitRecord) -> tuple[Check, ...]:
    """What was looked at before measuring."""
    checks = _VISIT.decode(visit.details).pre_checks
    return tuple(Check(one.item, one.result.value, one.note or "") for one in checks)


def with_own_words(stored: SheetDetails, own: SheetDetails | None) -> SheetDetails:
    """What is stored, with a shop's own words in place of it where it gives any."""
    if own is None:
        return stored
    given = {name: getattr(own, name) for name in own.__struct_fields__}
    return msgspec.structs.replace(stored, **{name: one for name, one in given.items() if one})


def _odometer(visit: VisitRecord) -> str | None:
    return None if visit.odometer is None else f"{visit.odometer} {visit.odometer_unit or ''}"
