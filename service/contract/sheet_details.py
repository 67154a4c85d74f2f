"""What a shop writes on a sheet besides readings, and how it wants it printed."""

from enum import StrEnum
from typing import Annotated

from msgspec import Meta

from service.contract.base import ClosedStruct
from service.contract.texts import NoteText, ShortText


class Paper(StrEnum):
    """Size of the pages."""

    LETTER = "letter"
    A4 = "a4"


class SheetDetails(ClosedStruct):
    """A shop's own words, printed as they are; whatever is left out is left off the sheet."""

    number: ShortText | None = None
    """The sheet's number; else the first digits of its hash."""
    shop: ShortText | None = None
    shop_lines: Annotated[list[ShortText], Meta(max_length=8)] = []
    """Address, telephone, licence: the lines below the shop's name."""
    customer: ShortText | None = None
    unit_number: ShortText | None = None
    vin: ShortText | None = None
    plate: ShortText | None = None
    make: ShortText | None = None
    """Make and model of the vehicle."""
    odometer: ShortText | None = None
    date: ShortText | None = None
    technician: ShortText | None = None
    complaint: NoteText | None = None
    work_done: Annotated[list[NoteText], Meta(max_length=50)] = []
    notes: NoteText | None = None
    closing: NoteText | None = None
    """The shop's text above the signatures, such as its warranty."""
