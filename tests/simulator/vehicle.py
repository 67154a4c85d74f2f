"""The vehicle as it truly stands: where every axle is, where it aims, how its wheels lean."""

from dataclasses import dataclass, field, replace

from simulator.plane import Line, Point, along, heading, rightward

PLAIN_WIDTH = 2.4384
"""Width over tyres of an axle whose vehicle does not state one: 96 in."""

FRAME_WIDTH = 0.8636
"""Outside to outside of the frame rails: 34 in, from memory; no result depends on it."""


@dataclass(slots=True)
class Wheel:
    """One wheel end: camber top outward, caster top rearward, wedge thick end rearward positive."""

    camber: float = 0.0
    caster: float = 0.0
    wedge: float = 0.0


@dataclass(slots=True)
class Axle:
    """Pose of one axle in metres and radians; `skew` counts for a steered axle only."""

    number: int
    role: str
    distance: float
    offset: float = 0.0
    thrust: float = 0.0
    toe: float = 0.0
    skew: float = 0.0
    width_over_tyres: float | None = None
    tyre_diameter: float | None = None
    left: Wheel = field(default_factory=Wheel)
    right: Wheel = field(default_factory=Wheel)

    @property
    def centre(self) -> Point:
        return (-self.distance, self.offset)

    @property
    def width(self) -> float:
        return PLAIN_WIDTH if self.width_over_tyres is None else self.width_over_tyres

    @property
    def beam(self) -> float:
        """Aim that the beam is square to: only a steered axle's wheels can aim elsewhere."""
        return self.skew if self.role == "steer" else self.thrust

    def wheel_heading(self, side: int) -> float:
        """Aim of the wheel of a side (left -1, right +1): each turns half the toe inward."""
        return self.thrust - side * self.toe / 2

    def sidewall(self, side: int) -> Point:
        """Outer tyre sidewall at hub height, on the line square to the axle's aim."""
        return along(self.centre, rightward(self.thrust), side * self.width / 2)

    def wheel_line(self, side: int) -> Line:
        """Line along the outer sidewall, as a straightedge held against the tyre lies."""
        return (self.sidewall(side), heading(self.wheel_heading(side)))

    def beam_end(self, side: int, spread: float) -> Point:
        """Measuring point of a side on the beam, the two being `spread` apart."""
        return along(self.centre, rightward(self.beam), side * spread / 2)


@dataclass(slots=True)
class Vehicle:
    """A vehicle's kind and its axles, front to rear."""

    unit: str
    axles: list[Axle]
    frame_width: float = FRAME_WIDTH

    def axle(self, number: int) -> Axle:
        return self.axles[number - 1]

    @property
    def towed(self) -> bool:
        """Whether distances count from a kingpin or drawbar eye."""
        return self.unit in ("trailer", "dolly")


def mirror_axle(axle: Axle) -> Axle:
    """The axle seen in a mirror that stands on the centreline."""
    return replace(
        axle,
        offset=-axle.offset,
        thrust=-axle.thrust,
        skew=-axle.skew,
        left=replace(axle.right),
        right=replace(axle.left),
    )


def mirror_vehicle(vehicle: Vehicle) -> Vehicle:
    """The vehicle seen in a mirror that stands on the centreline."""
    return replace(vehicle, axles=[mirror_axle(axle) for axle in vehicle.axles])
