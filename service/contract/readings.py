"""The readings a technician takes, as they arrive: one tagged struct a kind."""

from enum import StrEnum
from typing import Annotated

from msgspec import Meta

from service.contract.base import (
    AngleText,
    AxleNumber,
    ClosedStruct,
    LengthText,
    TapeText,
    ToeText,
)

InstrumentName = Annotated[
    str, Meta(min_length=1, max_length=40, description="Name of an entry of `instruments`.")
]
UncertaintyText = Annotated[
    str,
    Meta(
        min_length=1,
        max_length=40,
        description="Standard uncertainty (k=1) of one side of this reading, as a length or, for "
        "readings in degrees, an angle.",
        examples=["1/64", "0.5 mm", "0.02"],
    ),
]


class Side(StrEnum):
    """Side of the vehicle, seen from the driver's seat."""

    LEFT = "left"
    RIGHT = "right"


class ThickEnd(StrEnum):
    """Which way the thick end of a caster wedge points."""

    FRONT = "front"
    REAR = "rear"


class SightlineReading(ClosedStruct, tag_field="kind", tag="sightline"):
    """A line held parallel to the axle's tyres meets a scale at the reference axle, both sides.

    Each value is the distance outboard of the reference axle's tyre sidewall (on a trailer or
    dolly without `reference`: outboard of the kingpin or drawbar eye).
    """

    axle: AxleNumber
    left: LengthText
    right: LengthText
    reference: AxleNumber | None = None
    uncertainty: UncertaintyText | None = None
    instrument: InstrumentName | None = None


class FrameGapReading(ClosedStruct, tag_field="kind", tag="frame_gap"):
    """Tape from the frame rail to the tyre sidewall of the axle, both sides."""

    axle: AxleNumber
    left: TapeText
    right: TapeText
    uncertainty: UncertaintyText | None = None
    instrument: InstrumentName | None = None


class SetbackSpanReading(ClosedStruct, tag_field="kind", tag="setback_span"):
    """Tape from a fixed point of the frame (spring pin) back to the axle, both sides."""

    axle: AxleNumber
    left: TapeText
    right: TapeText
    spread: TapeText
    """Distance between the left and the right measuring point on the axle."""
    uncertainty: UncertaintyText | None = None
    instrument: InstrumentName | None = None


class AxleSpanReading(ClosedStruct, tag_field="kind", tag="axle_span"):
    """Tape from axle end to axle end of two axles, both sides."""

    front_axle: AxleNumber
    rear_axle: AxleNumber
    left: TapeText
    right: TapeText
    spread: TapeText
    """Distance between the left and the right measuring point, the same on both axles."""
    uncertainty: UncertaintyText | None = None
    instrument: InstrumentName | None = None


class KingpinSpanReading(ClosedStruct, tag_field="kind", tag="kingpin_span"):
    """Tape from the kingpin (dolly: drawbar eye) to the axle end, both sides."""

    axle: AxleNumber
    left: TapeText
    right: TapeText
    spread: TapeText
    """Distance between the left and the right measuring point on the axle."""
    uncertainty: UncertaintyText | None = None
    instrument: InstrumentName | None = None


class ToeWidthReading(ClosedStruct, tag_field="kind", tag="toe_width"):
    """Distance between the scribe lines of an axle's tyres, across their front and their rear."""

    axle: AxleNumber
    front: TapeText
    rear: TapeText
    baseline: TapeText | None = None
    """Fore-and-aft distance between the two places read; else the axle's `tyre_diameter`."""
    uncertainty: UncertaintyText | None = None
    instrument: InstrumentName | None = None


class ToeScaleReading(ClosedStruct, tag_field="kind", tag="toe_scale"):
    """Total toe as a scale shows it, toe-in positive."""

    axle: AxleNumber
    toe: ToeText
    baseline: TapeText | None = None
    """Baseline that the scale's length is stated over; else the axle's `tyre_diameter`."""
    uncertainty: UncertaintyText | None = None
    instrument: InstrumentName | None = None


class WheelAngleReading(ClosedStruct, tag_field="kind", tag="wheel_angle"):
    """Toe, camber or caster of one wheel as an instrument shows them, in degrees."""

    axle: AxleNumber
    side: Side
    toe: AngleText | None = None
    camber: AngleText | None = None
    caster: AngleText | None = None
    uncertainty: UncertaintyText | None = None
    instrument: InstrumentName | None = None


class CasterSweepReading(ClosedStruct, tag_field="kind", tag="caster_sweep"):
    """Camber of one wheel read at a left and at a right turn of the same angle."""

    axle: AxleNumber
    side: Side
    turn: AngleText
    """Angle of each of the two turns."""
    camber_left_turn: AngleText
    camber_right_turn: AngleText
    uncertainty: UncertaintyText | None = None
    instrument: InstrumentName | None = None


class WedgeReading(ClosedStruct, tag_field="kind", tag="wedge"):
    """Taper of the caster wedge of each side and which way its thick end points."""

    axle: AxleNumber
    left: AngleText
    left_thick_end: ThickEnd
    right: AngleText
    right_thick_end: ThickEnd
    uncertainty: UncertaintyText | None = None
    instrument: InstrumentName | None = None


Reading = (
    SightlineReading
    | FrameGapReading
    | SetbackSpanReading
    | AxleSpanReading
    | KingpinSpanReading
    | ToeWidthReading
    | ToeScaleReading
    | WheelAngleReading
    | CasterSweepReading
    | WedgeReading
)


class ReadingKind(StrEnum):
    """The kinds of reading, as `kind` names them."""

    SIGHTLINE = "sightline"
    FRAME_GAP = "frame_gap"
    SETBACK_SPAN = "setback_span"
    AXLE_SPAN = "axle_span"
    KINGPIN_SPAN = "kingpin_span"
    TOE_WIDTH = "toe_width"
    TOE_SCALE = "toe_scale"
    WHEEL_ANGLE = "wheel_angle"
    CASTER_SWEEP = "caster_sweep"
    WEDGE = "wedge"


class Instrument(ClosedStruct):
    """What an instrument is good for; readings of its kind use it unless they name another."""

    kind: ReadingKind
    name: InstrumentName | None = None
    uncertainty: UncertaintyText | None = None
    """Standard uncertainty (k=1) of one side of one reading."""
    resolution: UncertaintyText | None = None
    """Smallest step of the scale; half of it is taken as a rectangular law (JCGM 100, 4.3.7)."""
    rehang: AngleText | None = None
    """Standard uncertainty of the aim of a sightline from hanging to hanging."""
