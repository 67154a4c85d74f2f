"""`/v1/vehicles`: what a shop keeps of a vehicle."""

from typing import Annotated
from uuid import UUID

from msgspec import Meta

from service.contract.base import ClosedStruct, OpenStruct
from service.contract.solution import Caution
from service.contract.texts import AwareTime, Cursor, NoteText, Revision, ShortText
from service.contract.vehicle import LengthUnit, Vehicle

VinText = Annotated[
    str,
    Meta(
        min_length=17,
        max_length=40,
        description="Vehicle identification number; blanks, hyphens and small letters are tidied.",
        examples=["1M8GDM9AXKP042788"],
    ),
]
ModelYear = Annotated[int, Meta(ge=1900, le=2200)]


class VehicleContent(ClosedStruct):
    """A vehicle as a shop describes it."""

    length_unit: LengthUnit
    """Unit of the lengths of `vehicle` that are written without one."""
    vehicle: Vehicle
    """Kind and axles, as in a solution request."""
    unit_number: ShortText | None = None
    """What the fleet calls the vehicle."""
    vin: VinText | None = None
    vin_check_digit: bool = False
    """Declares that the VIN follows 49 CFR 565: a wrong check digit is then an error, else only
    a caution."""
    make: ShortText | None = None
    model: ShortText | None = None
    model_year: ModelYear | None = None
    customer: ShortText | None = None
    notes: NoteText | None = None


class VehicleDetails(ClosedStruct):
    """The part of a vehicle's content that nothing is looked up by, as it is stored."""

    length_unit: LengthUnit
    vin_check_digit: bool = False
    make: ShortText | None = None
    model: ShortText | None = None
    model_year: ModelYear | None = None
    customer: ShortText | None = None
    notes: NoteText | None = None


class StoredVehicle(OpenStruct):
    """A vehicle of the shop."""

    id: UUID
    revision: Revision
    length_unit: LengthUnit
    vehicle: Vehicle
    unit_number: str | None
    vin: str | None
    vin_check_digit: bool
    make: str | None
    model: str | None
    model_year: int | None
    customer: str | None
    notes: str | None
    cautions: list[Caution]
    """What to look at again, such as a check digit that does not fit the VIN."""
    created_at: AwareTime
    updated_at: AwareTime


class VehiclePage(OpenStruct):
    """Vehicles, newest first."""

    items: list[StoredVehicle]
    next_cursor: Cursor | None
    """Null at the end."""
