"""A computed number on the wire: its value, its unit and the words for it."""

from enum import StrEnum

from service.contract.base import OpenStruct


class FigureUnit(StrEnum):
    """Unit of a figure."""

    DEGREE = "deg"
    INCH = "in"
    MILLIMETRE = "mm"
    CENTIMETRE = "cm"
    NEWTON = "N"
    POUND_FORCE = "lbf"
    NEWTON_PER_DEGREE = "N/deg"
    POUND_FORCE_PER_DEGREE = "lbf/deg"
    FOOT_PER_MILE = "ft/mi"
    METRE_PER_KILOMETRE = "m/km"
    WATT = "W"


class Figure(OpenStruct):
    """A number that follows from what was given, without an uncertainty of its own."""

    value: float
    unit: FigureUnit
    text: str
