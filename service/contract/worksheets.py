"""`POST /v1/worksheets` and `POST /v1/blank-worksheets`: what is printed."""

from typing import Annotated

from msgspec import Meta

from service.contract.base import ClosedStruct
from service.contract.readings import ReadingKind
from service.contract.sheet_details import Paper, SheetDetails
from service.contract.solution import SolutionRequest
from service.contract.vehicle import LengthUnit, Vehicle


class WorksheetRequest(ClosedStruct):
    """The readings of one round, or of the rounds before and after the work, for a sheet."""

    before: SolutionRequest
    after: SolutionRequest | None = None
    """A second round of the same vehicle: the sheet then shows what changed."""
    details: SheetDetails | None = None
    length_unit: LengthUnit | None = None
    """Unit of the lengths on the sheet; else that of `before`. Readings stay as they were taken."""
    paper: Paper | None = None
    """Letter where lengths are in inches and A4 where they are not, unless stated."""


class BlankWorksheetRequest(ClosedStruct):
    """A vehicle for which a sheet is to be filled in by hand."""

    vehicle: Vehicle
    length_unit: LengthUnit
    """Unit of the vehicle's lengths without one, of the sheet and of what is written on it."""
    readings: Annotated[list[ReadingKind], Meta(max_length=10)] = []
    """Kinds of reading to leave room for, in whatever order; else the usual ones."""
    details: SheetDetails | None = None
    paper: Paper | None = None
    fraction: Annotated[int, Meta(ge=2, le=64)] = 32
    """Denominator that lengths in inches round to."""
