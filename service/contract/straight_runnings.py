"""`POST /v1/straight-runnings`: what is asked and what is answered."""

from enum import StrEnum
from typing import Annotated

from msgspec import Meta

from service.contract.base import AngleText, AxleNumber, ClosedStruct, LengthText, OpenStruct
from service.contract.figures import Figure
from service.contract.running import Hold
from service.contract.solution import Caution
from service.contract.vehicle import AxleRole, LengthUnit, VehicleKind

LOAD_LIMIT = 1_000_000.0

CrossSlopeText = Annotated[
    str,
    Meta(
        min_length=1,
        max_length=40,
        description="Slope of the road from side to side in percent, with the percent sign; "
        "positive where it falls to the right.",
        examples=["2 %", "-1.5 %"],
    ),
]
Load = Annotated[float, Meta(ge=0, le=LOAD_LIMIT)]


class LoadUnit(StrEnum):
    """Unit of loads and of stiffness; forces are answered in `N` for `kg` and in `lbf` for `lb`."""

    KILOGRAM = "kg"
    POUND = "lb"


class SpeedUnit(StrEnum):
    """Unit of the speed."""

    KILOMETRE_PER_HOUR = "km/h"
    MILE_PER_HOUR = "mph"


class TyreConstruction(StrEnum):
    """How the tyres are built; it sets how stiff they are for their load."""

    RADIAL = "radial"
    BIAS = "bias"


class LoadedAxle(ClosedStruct):
    """One axle as it stands on the road.

    Give the load or the cornering stiffness of every axle, or of none: then usual loads weigh
    the axles against each other and no force is answered.
    """

    number: AxleNumber
    role: AxleRole
    distance: LengthText
    """Rearward from the reference point of the vehicle; axles stand in increasing order."""
    thrust: AngleText | None = None
    """Aim of the axle's wheels from the frame centreline, right positive; of a steered axle, with
    the steering wheel centred. Needed of every axle but the first steered one."""
    load: Annotated[float, Meta(gt=0, le=LOAD_LIMIT)] | None = None
    """Load of the axle in `load_unit`."""
    cornering_stiffness: Load | None = None
    """Side force of the whole axle for one degree of slip, in pounds-force (`lb`) or
    kilograms-force (`kg`) as `load_unit` says; 0 for an axle that casters freely."""
    steered: bool | None = None
    """Whether its wheels turn with the steering wheel; else `role` `steer` does."""
    steer_ratio: Annotated[float, Meta(ge=-2, le=2)] | None = None
    """Turn of its wheels for one degree at the first steered axle; else 1."""


class LoadedVehicle(ClosedStruct):
    """A vehicle and its axles on the road, front to rear."""

    unit: VehicleKind
    axles: Annotated[list[LoadedAxle], Meta(min_length=1, max_length=12)]


class StraightRunningRequest(ClosedStruct):
    """A vehicle that is to run straight, and the road."""

    length_unit: LengthUnit
    vehicle: LoadedVehicle
    load_unit: LoadUnit | None = None
    """Needed as soon as a load, a stiffness or a weight is given."""
    tyres: TyreConstruction = TyreConstruction.RADIAL
    stiffness_per_degree: Annotated[float, Meta(ge=0.01, le=0.5)] | None = None
    """Side force at one degree of slip as a share of the load; else 0.15 for radial tyres and
    0.12 for bias tyres."""
    cross_slope: CrossSlopeText | None = None
    weight: Load | None = None
    """Weight of the whole vehicle in `load_unit`; else the sum of the axle loads."""
    centre_of_gravity: LengthText | None = None
    """Its distance rearward from the reference point; else where the axle loads put it."""
    hitch_load: Load | None = None
    """Load on the kingpin or drawbar eye of a trailer or dolly, in `load_unit`."""
    steering_ratio: Annotated[float, Meta(gt=0, le=100)] | None = None
    """Degrees of the steering wheel for one degree of the front wheels."""
    speed: Annotated[float, Meta(gt=0, le=200)] | None = None
    """Asks for the drag power at this speed."""
    speed_unit: SpeedUnit | None = None
    text: bool = True
    """Whether display texts are written; false answers empty texts."""


class AxleOnRoad(OpenStruct):
    """What one axle does while the vehicle runs straight. Right is positive throughout."""

    number: AxleNumber
    role: AxleRole
    steered: bool
    aim: Figure
    """Its wheels against the frame."""
    slip: Figure
    """Its wheels against the path; the tyres push the vehicle the way they aim."""
    side_force: Figure | None
    """Push of the axle's tyres on the vehicle."""
    sideways_per_mile: Figure
    """How far its tyres would roll off the path in a mile, and are dragged back instead."""
    sideways_per_kilometre: Figure
    drag_power: Figure | None
    cornering_stiffness: Figure | None


class RunningAssumption(OpenStruct):
    """Something the figures rest on that was not given."""

    id: str
    text: str
    source: str
    """Who says so, or that nobody does."""


class StraightRunningAnswer(OpenStruct):
    """How the vehicle runs straight. Angles are clockwise, so right, positive.

    ISO 8855 counts a steering-wheel angle (7.1.8) and every heading positive to the left: turn
    the sign for it. Nothing here is a figure of tyre life or fuel.
    """

    engine: str
    crab: Figure
    """Heading of the frame against its path: positive, the nose is to the right of the path."""
    steer: Figure | None
    """First steered axle's wheels against the frame."""
    turn: Figure | None
    """The same from where they stand with the steering wheel centred."""
    steering_wheel: Figure | None
    """The turn at the steering wheel, by `steering_ratio`."""
    hold: Hold | None
    """Null for a vehicle that nobody steers."""
    hitch_force: Figure | None
    """Side force of the towing vehicle on the kingpin or drawbar eye."""
    drag_force: Figure | None
    """Force that the slip of all axles costs."""
    drag_power: Figure | None
    equivalent_wheelbase: Figure | None
    """Wheelbase of the two-axle vehicle that turns alike; dual tyres' own resistance aside."""
    axles: list[AxleOnRoad]
    assumptions: list[RunningAssumption]
    cautions: list[Caution]
    text: str
