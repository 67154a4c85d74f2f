"""The vehicle as a client describes it: its kind and its axles, front to rear."""

from enum import StrEnum
from typing import Annotated

from msgspec import Meta

from service.contract.base import AxleNumber, ClosedStruct, LengthText, TapeText


class LengthUnit(StrEnum):
    """Unit of a length written without one, and of every length in the answer."""

    INCH = "in"
    MILLIMETRE = "mm"
    CENTIMETRE = "cm"


class VehicleKind(StrEnum):
    """What is aligned; it says where `distance` 0 lies.

    A truck or tractor counts from its front steer axle, a trailer from its kingpin, a dolly
    from the eye of its drawbar.
    """

    TRACTOR = "tractor"
    TRUCK = "truck"
    TRAILER = "trailer"
    DOLLY = "dolly"


class AxleRole(StrEnum):
    """What the axle does; target rows name the roles that they apply to."""

    STEER = "steer"
    DRIVE = "drive"
    TAG = "tag"
    PUSHER = "pusher"
    TRAILER = "trailer"
    DOLLY = "dolly"


class Axle(ClosedStruct):
    """One axle of the vehicle."""

    number: AxleNumber
    role: AxleRole
    distance: LengthText
    """Rearward from the reference point of the vehicle; axles stand in increasing order."""
    tyre_diameter: TapeText | None = None
    """Span between the scribe lines, or the tyre's diameter; the baseline of a toe in length."""
    width_over_tyres: TapeText | None = None
    """Outside to outside of the tyre sidewalls at hub height, as taped."""


class Vehicle(ClosedStruct):
    """A vehicle and its axles, front to rear."""

    unit: VehicleKind
    axles: Annotated[list[Axle], Meta(min_length=1, max_length=12)]
