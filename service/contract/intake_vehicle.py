"""Reads the vehicle of a request: texts to metres, order and place of its axles."""

from service.contract.intake_errors import FaultError, unreadable
from service.contract.problem_catalogue import (
    AXLES_IN_ONE_PLACE,
    AXLES_OUT_OF_ORDER,
    NEGATIVE_TAPE_READING,
    READING_IMPOSSIBLE,
)
from service.contract.problems import FieldError
from service.contract.vehicle import Axle as WireAxle
from service.contract.vehicle import Vehicle as WireVehicle
from service.geometry.length_text import parse_length
from service.geometry.quantity import QuantityError
from service.geometry.vehicle import Axle, Vehicle

SHORTEST = 0.01
"""A spread, baseline, diameter or width below 10 mm is a slip of the pen, in metres."""


def vehicle_of(wire: WireVehicle, unit: str, errors: list[FieldError]) -> Vehicle:
    """Return the vehicle in metres, adding to `errors` whatever is wrong with it."""
    axles: list[Axle] = []
    found = len(errors)
    for place, axle in enumerate(wire.axles):
        try:
            axles.append(
                Axle(
                    axle.number,
                    axle.role.value,
                    parse_length(axle.distance, unit),
                    _tape(axle, "width_over_tyres", unit),
                    _tape(axle, "tyre_diameter", unit),
                )
            )
        except (QuantityError, FaultError):
            errors += _explain(axle, place, unit)
    vehicle = Vehicle(wire.unit.value, tuple(axles))
    if len(errors) == found:
        _check_order(vehicle, errors)
    return vehicle


def _tape(axle: WireAxle, field: str, unit: str) -> float | None:
    text: str | None = getattr(axle, field)
    if text is None:
        return None
    value = parse_length(text, unit)
    if value < SHORTEST:
        kind = NEGATIVE_TAPE_READING if value < 0 else READING_IMPOSSIBLE
        raise FaultError(
            kind,
            field,
            f"{field} is {text!r}, which no tyre or axle measures",
            "Write the length as the tape shows it, such as 40.2 in.",
        )
    return value


def _explain(axle: WireAxle, place: int, unit: str) -> list[FieldError]:
    """Everything that is wrong with the texts of one axle."""
    errors = []
    for field in ("distance", "width_over_tyres", "tyre_diameter"):
        try:
            if field == "distance":
                parse_length(axle.distance, unit)
            else:
                _tape(axle, field, unit)
        except QuantityError as error:
            errors.append(unreadable(error, "vehicle", "axles", place, field))
        except FaultError as fault:
            errors.append(fault.at("vehicle", "axles", place))
    return errors


def _check_order(vehicle: Vehicle, errors: list[FieldError]) -> None:
    """Axles stand front to rear, each in a place and under a number of its own."""
    numbers: set[int] = set()
    for place, axle in enumerate(vehicle.axles):
        fault = _start_fault(vehicle, axle) if place == 0 else None
        if place > 0:
            fault = _order_fault(vehicle.axles[place - 1], axle)
        if axle.number in numbers:
            fault = FaultError(
                AXLES_IN_ONE_PLACE,
                "number",
                f"two axles have the number {axle.number}",
                "Give each axle a number of its own, counted from the front.",
            )
        numbers.add(axle.number)
        if fault is not None:
            errors.append(fault.at("vehicle", "axles", place))


def _start_fault(vehicle: Vehicle, first: Axle) -> FaultError | None:
    if vehicle.towed and first.distance <= 0:
        return FaultError(
            AXLES_OUT_OF_ORDER,
            "distance",
            f"axle {first.number} of a {vehicle.kind} stands at or ahead of the pin it is drawn by",
            "Give the distance rearward from the kingpin (dolly: drawbar eye) to the axle.",
        )
    if not vehicle.towed and first.distance != 0:
        return FaultError(
            AXLES_OUT_OF_ORDER,
            "distance",
            f"distances of a {vehicle.kind} start at its first axle, which is not at 0",
            "Give the first axle the distance 0 and the others theirs rearward from it.",
        )
    return None


def _order_fault(front: Axle, rear: Axle) -> FaultError | None:
    if rear.distance == front.distance:
        return FaultError(
            AXLES_IN_ONE_PLACE,
            "distance",
            f"axles {front.number} and {rear.number} stand at the same distance",
            "Give each axle its own distance rearward from the reference point.",
        )
    if rear.distance < front.distance:
        return FaultError(
            AXLES_OUT_OF_ORDER,
            "distance",
            f"axle {rear.number} stands ahead of axle {front.number}, which is listed before it",
            "List axles front to rear; distance counts rearward and increases.",
        )
    return None
