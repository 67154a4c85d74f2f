"""What readings are read against: the unit, the axles, the instruments, and what can be true."""

from collections.abc import Sequence
from functools import lru_cache

from service.contract.intake_errors import FaultError
from service.contract.intake_uncertainty import Instruments
from service.contract.intake_vehicle import SHORTEST
from service.contract.problem_catalogue import (
    AXLE_NOT_FOUND,
    NEGATIVE_TAPE_READING,
    READING_IMPOSSIBLE,
)
from service.contract.problems import FieldError
from service.contract.readings import Instrument
from service.geometry.angle_text import ANGLES
from service.geometry.length_text import LENGTHS
from service.geometry.vehicle import Axle, Vehicle

STEEPEST = 0.7853981633974483
"""45 degrees: no wheel stands further out than that."""


class Axles(dict[int, Axle]):
    """The axles of a vehicle by number; to ask for one that it does not have is a fault."""

    def __missing__(self, number: int) -> Axle:
        return self.named(number, "axle")

    def named(self, number: int, field: str) -> Axle:
        """The axle of that number, or a fault on `field`."""
        found = self.get(number)
        if found is None:
            known = ", ".join(map(str, self)) or "none"
            raise FaultError(
                AXLE_NOT_FOUND,
                field,
                f"the vehicle has no axle {number}",
                f"Name one of its axles: {known}.",
            )
        return found


class Bench:
    """What a reading is read against: the unit, the axles, the instruments.

    `lengths` holds the metres of a text, `sure` is what `Instruments.of` says, `reference` the
    number of the axle that carries a sightline's scale unless another is named, 0 for a pin.
    Nothing in it changes, so that one serves all vehicles of a model.
    """

    __slots__ = ("axles", "instruments", "lengths", "reference", "sure", "unit", "vehicle")

    def __init__(self, unit: str, vehicle: Vehicle, instruments: Instruments) -> None:
        self.unit = unit
        self.vehicle = vehicle
        self.instruments = instruments
        self.lengths = LENGTHS[unit]
        self.sure = instruments.of
        standing = vehicle.axles and not vehicle.towed
        self.reference = vehicle.axles[0].number if standing else 0
        self.axles = Axles([(axle[0], axle) for axle in vehicle.axles])

    def tapes(self, left: str, right: str) -> tuple[float, float]:
        """The lengths in the fields `left` and `right`, as a tape shows them."""
        on_left, on_right = self.lengths[left], self.lengths[right]
        if on_left < 0 or on_right < 0:
            return self.tape(left, "left"), self.tape(right, "right")
        return on_left, on_right

    def tape(self, text: str, field: str) -> float:
        """A length that a tape shows."""
        value = self.lengths[text]
        if value < 0:
            raise FaultError(
                NEGATIVE_TAPE_READING,
                field,
                f"{field} is {text!r}, and a tape cannot read less than nothing",
                "Write the length as the tape shows it, without a sign.",
            )
        return value

    def span(self, text: str, field: str) -> float:
        """A length that something is divided by, so that it must not vanish."""
        value = self.lengths[text]
        if value < SHORTEST:
            self.tape(text, field)  # which refuses a negative one in its own words
            raise FaultError(
                READING_IMPOSSIBLE,
                field,
                f"{field} is {text!r}, too short to measure anything over",
                "Write the distance between the two points that were read, such as 33 1/2 in.",
            )
        return value

    def angle(self, text: str, field: str) -> float:
        """An angle that a wheel can have."""
        value = ANGLES[text]
        if abs(value) > STEEPEST:
            raise FaultError(
                READING_IMPOSSIBLE,
                field,
                f"{field} of {text!r} is beyond 45 degrees",
                "Write the angle in degrees, such as 0.25 or 0°15'.",
            )
        return value


def bench_of(
    wires: Sequence[Instrument], unit: str, vehicle: Vehicle, errors: list[FieldError]
) -> Bench:
    """What readings are read against, adding to `errors` whatever is wrong with the instruments."""
    if wires:
        return Bench(unit, vehicle, Instruments(wires, unit, errors))
    return _usual_bench(unit, vehicle)


@lru_cache(maxsize=1024)
def _usual_bench(unit: str, vehicle: Vehicle) -> Bench:
    """The bench of a vehicle of whose instruments nothing is told."""
    return Bench(unit, vehicle, Instruments((), unit, []))
