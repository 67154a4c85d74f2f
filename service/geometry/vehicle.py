"""The vehicle as the solver sees it: axles by number, metres from the reference point."""

from typing import NamedTuple

DEFAULT_WIDTH = 2.4384
"""Width over the tyres taken when none is given: 96 in, in metres (industry, from memory).

It enters a sightline only through the product of thrust and toe, some thousandths of an inch.
"""

STEERED_ROLES = frozenset({"steer"})
TOWED_KINDS = frozenset({"trailer", "dolly"})


class Axle(NamedTuple):
    """One axle; lengths in metres, `distance` rearward positive from the reference point."""

    number: int
    role: str
    distance: float
    width: float | None = None
    tyre_diameter: float | None = None

    @property
    def steered(self) -> bool:
        """Whether its wheels turn independently of how its beam stands."""
        return self.role in STEERED_ROLES


class Vehicle(NamedTuple):
    """A vehicle and its axles, front to rear.

    `kind` is "tractor", "truck", "trailer" or "dolly"; a trailer counts from its kingpin, a
    dolly from its drawbar eye, the others from their first axle.
    """

    kind: str
    axles: tuple[Axle, ...]

    @property
    def towed(self) -> bool:
        """Whether distances start at a pin on the frame centreline instead of an axle."""
        return self.kind in TOWED_KINDS
