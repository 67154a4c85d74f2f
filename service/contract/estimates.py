"""A number that readings give, on the wire: its value, uncertainty, basis and words."""

from enum import StrEnum

from service.contract.base import OpenStruct


class EstimateUnit(StrEnum):
    """Unit of an estimate."""

    INCH = "in"
    MILLIMETRE = "mm"
    CENTIMETRE = "cm"
    DEGREE = "deg"


class Basis(StrEnum):
    """Whether readings alone carry an estimate or an assumption has a part in it."""

    MEASURED = "measured"
    PARTLY_ASSUMED = "partly_assumed"


class Estimate(OpenStruct, kw_only=False):
    """A number that the readings give, with its expanded uncertainty (k=2)."""

    value: float
    unit: EstimateUnit
    uncertainty: float
    basis: Basis
    text: str
