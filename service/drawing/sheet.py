"""What a worksheet is made from."""

from typing import NamedTuple

from service.drawing.subject import Session
from service.geometry.vehicle import Vehicle

FACTS = (
    "customer",
    "unit_number",
    "vin",
    "plate",
    "make",
    "odometer",
    "date",
    "technician",
    "complaint",
)
"""What a shop may write about a vehicle and a visit, in the order of the sheet."""


CONDITIONS = (
    "rolled_straight",
    "stopped_gently",
    "wheels_on_ground",
    "level_ground",
    "ride_height_set",
    "tyres_matched",
    "suspension_sound",
)
"""What may be stated of how a vehicle stood, in the order of the sheet."""


class Details(NamedTuple):
    """A shop's own words. `facts` are pairs of one of `FACTS` and its text."""

    number: str = ""
    shop: str = ""
    shop_lines: tuple[str, ...] = ()
    facts: tuple[tuple[str, str], ...] = ()
    work_done: tuple[str, ...] = ()
    notes: str = ""
    closing: str = ""


class Form(NamedTuple):
    """How a sheet is written: `paper` "letter" or "a4"; `unit` "in", "mm" or "cm"."""

    language: str = "en"
    paper: str = "letter"
    unit: str = "in"
    denominator: int = 32


class Done(NamedTuple):
    """Work that the readings prove: an operation of a rate card, and where it was done."""

    operation: str
    axle: int | None = None
    side: str | None = None


class Check(NamedTuple):
    """Something that was looked at before measuring; `result` is a word of the contract."""

    item: str
    result: str
    note: str = ""


class Sheet(NamedTuple):
    """A worksheet of one round, or of the rounds before and after the work."""

    before: Session
    after: Session | None = None
    details: Details = Details()
    done: tuple[Done, ...] = ()
    checks: tuple[Check, ...] = ()


class Blank(NamedTuple):
    """A worksheet to be filled in by hand for a vehicle; no `readings` means the usual ones."""

    vehicle: Vehicle
    details: Details = Details()
    readings: tuple[str, ...] = ()
