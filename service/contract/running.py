"""How a solved vehicle runs straight: crab, hold, and how far each axle is dragged sideways."""

from enum import StrEnum

from service.contract.base import AxleNumber, OpenStruct
from service.contract.estimates import Estimate


class HoldSide(StrEnum):
    """The way the steering wheel is held."""

    LEFT = "left"
    RIGHT = "right"
    NONE = "none"


class Hold(OpenStruct):
    """What the driver does to go straight."""

    side: HoldSide
    text: str


class AxleRun(OpenStruct, kw_only=False):
    """What one axle does while the vehicle runs straight on a level road; right is positive."""

    number: AxleNumber
    slip_deg: float
    """Its wheels against the path, degrees."""
    sideways_ft_per_mile: float
    """How far its tyres would roll off the path in a mile, and are dragged back instead, feet."""
    sideways_m_per_km: float
    """The same in metres for a kilometre."""


class Running(OpenStruct):
    """Straight running on a level road with usual axle loads and radial tyres.

    Only the ratios of the loads matter; `POST /v1/straight-runnings` takes the vehicle's own
    loads, a cross-slope and a speed. Nothing here is a figure of tyre life or fuel.
    """

    crab: Estimate
    """Heading of the frame against its path: positive, the nose is to the right of the path."""
    steer: Estimate | None
    """Turn of the front wheels from where they stand with the steering wheel centred."""
    steering_wheel: Estimate | None
    """The turn at the steering wheel, where `steering_ratio` was given."""
    hold: Hold | None
    """Null for a vehicle that nobody steers."""
    axles: list[AxleRun]
