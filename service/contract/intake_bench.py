"""What readings are read against: the unit, the axles, the instruments, and what can be true."""

from service.contract.intake_errors import FaultError
from service.contract.intake_uncertainty import Instruments
from service.contract.intake_vehicle import SHORTEST
from service.contract.problem_catalogue import (
    AXLE_NOT_FOUND,
    NEGATIVE_TAPE_READING,
    READING_IMPOSSIBLE,
)
from service.geometry.angle_text import parse_angle
from service.geometry.length_text import parse_length
from service.geometry.vehicle import Axle, Vehicle

STEEPEST = 0.7853981633974483
"""45 degrees: no wheel stands further out than that."""


class Bench:
    """What a reading is read against: the unit, the axles, the instruments."""

    def __init__(self, unit: str, vehicle: Vehicle, instruments: Instruments) -> None:
        self.unit = unit
        self.vehicle = vehicle
        self.instruments = instruments
        self.axles: dict[int, Axle] = {axle.number: axle for axle in vehicle.axles}

    def axle(self, number: int, field: str = "axle") -> Axle:
        """The axle of that number, or a fault on `field`."""
        found = self.axles.get(number)
        if found is None:
            known = ", ".join(map(str, self.axles)) or "none"
            raise FaultError(
                AXLE_NOT_FOUND,
                field,
                f"the vehicle has no axle {number}",
                f"Name one of its axles: {known}.",
            )
        return found

    def tape(self, text: str, field: str) -> float:
        """A length that a tape shows."""
        value = parse_length(text, self.unit)
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
        value = self.tape(text, field)
        if value < SHORTEST:
            raise FaultError(
                READING_IMPOSSIBLE,
                field,
                f"{field} is {text!r}, too short to measure anything over",
                "Write the distance between the two points that were read, such as 33 1/2 in.",
            )
        return value

    def angle(self, text: str, field: str) -> float:
        """An angle that a wheel can have."""
        value = parse_angle(text)
        if abs(value) > STEEPEST:
            raise FaultError(
                READING_IMPOSSIBLE,
                field,
                f"{field} of {text!r} is beyond 45 degrees",
                "Write the angle in degrees, such as 0.25 or 0°15'.",
            )
        return value
