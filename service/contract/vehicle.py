"""The vehicle as a client describes it: its kind and its axles, front to rear."""

from enum import StrEnum
from typing import Annotated

from msgspec import Meta

from service.contract.base import AxleNumber, ClosedStruct, LengthText, TapeText

IncrementText = Annotated[
    str,
    Meta(
        min_length=1,
        max_length=40,
        description="A step or a travel: a length, or turns where a thread makes it; for a wedge "
        "an angle, for a tie rod turns.",
        examples=["1/16", "3 mm", "0.5", "1/4 turn"],
    ),
]


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


class AdjusterKind(StrEnum):
    """What an adjuster moves.

    `lateral` moves the axle sideways, `longitudinal` turns it by moving its ends along the frame,
    `tie_rod` changes total toe, `wedge` changes caster.
    """

    LATERAL = "lateral"
    LONGITUDINAL = "longitudinal"
    TIE_ROD = "tie_rod"
    WEDGE = "wedge"


class AdjusterEnds(StrEnum):
    """Which ends an adjuster moves; of both, one goes forward as the other goes rearward."""

    BOTH_ENDS = "both_ends"
    LEFT_END = "left_end"
    RIGHT_END = "right_end"


class TieRodThreads(StrEnum):
    """`both_hands`: left-hand thread at one end, right-hand at the other, so both screw at once."""

    BOTH_HANDS = "both_hands"
    ONE_HAND = "one_hand"


class Adjuster(ClosedStruct):
    """One way in which the axle can be moved."""

    kind: AdjusterKind
    ends: AdjusterEnds = AdjusterEnds.BOTH_ENDS
    """Of a `longitudinal` adjuster: which ends it moves; of a `wedge`: which sides have one that
    can be changed. Others take no notice of it."""
    spread: TapeText | None = None
    """Of a `longitudinal` adjuster: distance between its left and its right point; else that of
    the spans read on the axle, else between the axle ends."""
    increment: IncrementText | None = None
    """Smallest step: a shim's thickness, a wedge's taper in degrees, a part of a thread's turn.
    Left out: half a degree of a `wedge`, no steps of anything else."""
    travel: IncrementText | None = None
    """How far it can still go to either side, in the same unit as `increment`."""
    thread_pitch: TapeText | None = None
    """Advance of the thread in one turn, such as 1/18 in or 1.5 mm: of a tie rod, or of whatever
    else is screwed to move the axle."""
    arm_length: TapeText | None = None
    """Length of the steering arm, kingpin to tie-rod end."""
    threads: TieRodThreads = TieRodThreads.BOTH_HANDS


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
    adjusters: Annotated[list[Adjuster], Meta(max_length=8)] | None = None
    """How the axle can be moved; an empty list says that it cannot. Left out: both ends stepless,
    amounts stated at the axle ends."""


class Vehicle(ClosedStruct):
    """A vehicle and its axles, front to rear."""

    unit: VehicleKind
    axles: Annotated[list[Axle], Meta(min_length=1, max_length=12)]
