"""The bodies of the sample request and its answer, as pydantic models."""

from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field

Text = Annotated[str, Field(min_length=1, max_length=64)]
Number = Annotated[int, Field(ge=1, le=99)]


class Closed(BaseModel):
    model_config = ConfigDict(extra="forbid", strict=True)


class Axle(Closed):
    number: Number
    role: Literal["steer", "drive", "tag", "pusher", "trailer", "dolly"]
    distance: Text
    tyre_diameter: Text | None = None
    width_over_tyres: Text | None = None


class Vehicle(Closed):
    unit: Literal["tractor", "truck", "trailer", "dolly"]
    axles: Annotated[list[Axle], Field(min_length=1, max_length=12)]


class Sightline(Closed):
    kind: Literal["sightline"]
    axle: Number
    left: Text
    right: Text


class FrameGap(Closed):
    kind: Literal["frame_gap"]
    axle: Number
    left: Text
    right: Text


class ToeScale(Closed):
    kind: Literal["toe_scale"]
    axle: Number
    toe: Text
    baseline: Text


class SetbackSpan(Closed):
    kind: Literal["setback_span"]
    axle: Number
    left: Text
    right: Text
    spread: Text


Reading = Annotated[Sightline | FrameGap | ToeScale | SetbackSpan, Field(discriminator="kind")]


class Conditions(Closed):
    rolled_straight: bool | None = None
    stopped_gently: bool | None = None
    wheels_on_ground: bool | None = None


class Request(Closed):
    length_unit: Literal["in"]
    target_set: Text
    vehicle: Vehicle
    readings: Annotated[list[Reading], Field(min_length=1, max_length=200)]
    conditions: Conditions | None = None


class Estimate(BaseModel):
    value: float
    unit: Literal["in", "deg"]
    uncertainty: float
    basis: Literal["measured", "partly_assumed"]
    text: str


class AxleGeometry(BaseModel):
    number: int
    role: str
    offset: Estimate | None = None
    offset_difference: Estimate | None = None
    thrust: Estimate | None = None
    thrust_difference: Estimate | None = None
    toe: Estimate | None = None
    toe_length: Estimate | None = None
    toe_baseline: Estimate | None = None
    toe_left: Estimate | None = None
    toe_right: Estimate | None = None
    setback: Estimate | None = None
    skew: Estimate | None = None
    kingpin_difference: Estimate | None = None
    camber_left: Estimate | None = None
    camber_right: Estimate | None = None
    cross_camber: Estimate | None = None
    caster_left: Estimate | None = None
    caster_right: Estimate | None = None
    cross_caster: Estimate | None = None
    wedge_left: Estimate | None = None
    wedge_right: Estimate | None = None
    wedge_difference: Estimate | None = None


class Pair(BaseModel):
    front: int
    rear: int
    scrub: Estimate | None = None
    span_difference: Estimate | None = None


class Finding(BaseModel):
    id: str
    quantity: str
    axle: int
    reference_axle: int | None
    estimate: Estimate
    nominal: float
    lower: float | None
    upper: float | None
    verdict: Literal["conforming", "nonconforming", "undetermined"]
    probability: float
    source: str
    text: str


class Hold(BaseModel):
    side: Literal["left", "right", "none"]
    text: str


class AxleRun(BaseModel):
    number: int
    slip_deg: float
    sideways_ft_per_mile: float
    sideways_m_per_km: float


class Running(BaseModel):
    crab: Estimate
    steer: Estimate
    steering_wheel: Estimate | None
    hold: Hold
    axles: list[AxleRun]


class Assumption(BaseModel):
    id: str
    axle: int
    quantity: str
    value: float
    unit: Literal["in"]
    standard_uncertainty: float
    text: str


class Caution(BaseModel):
    code: str
    pointer: str | None
    text: str


class Solution(BaseModel):
    engine: str
    length_unit: Literal["in"]
    target_set: str
    axles: list[AxleGeometry]
    pairs: list[Pair]
    findings: list[Finding]
    plan: list[None] = []
    prediction: None = None
    remaining: list[None] = []
    running: Running
    assumptions: list[Assumption]
    suspects: list[None] = []
    cautions: list[Caution]
