"""Vehicles: what a shop calls them, their VIN and their axle layout."""

from datetime import datetime
from uuid import UUID

import msgspec

from service.store.entities import Kind
from service.store.pages import Listing
from service.store.tables import vehicles


class VehicleRecord(msgspec.Struct, kw_only=False):
    """A row of `vehicles`; `layout` and `details` are JSON as the door encoded it."""

    id: UUID
    unit_number: str | None
    vin: str | None
    layout: bytes
    details: bytes
    created_at: datetime
    updated_at: datetime
    revision: int
    deleted_at: datetime | None


VEHICLES = Kind("vehicle", vehicles, VehicleRecord)
VEHICLE_LIST = Listing(vehicles, VehicleRecord, "created_at")
