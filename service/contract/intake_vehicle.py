"""Reads the vehicle of a request: texts to metres, order and place of its axles."""

from functools import lru_cache

from service.contract.intake_errors import FaultError, unreadable
from service.contract.problem_catalogue import (
    AXLES_IN_ONE_PLACE,
    AXLES_OUT_OF_ORDER,
    NEGATIVE_TAPE_READING,
    READING_IMPOSSIBLE,
)
from service.contract.problems import FieldError
from service.contract.vehicle import Vehicle as WireVehicle
from service.geometry.length_text import parse_length
from service.geometry.quantity import QuantityError
from service.geometry.vehicle import Axle, Vehicle

SHORTEST = 0.01
"""A spread, baseline, diameter or width below 10 mm is a slip of the pen, in metres."""


AxleTexts = tuple[int, str, str, str | None, str | None]
"""Number and role of an axle, and the texts of its distance, width over tyres and tyre diameter."""
Model = tuple[str, tuple[AxleTexts, ...]]
"""Kind and axles of a vehicle."""


def vehicle_of(wire: WireVehicle, unit: str, errors: list[FieldError]) -> Vehicle:
    """Return the vehicle in metres, adding to `errors` whatever is wrong with it."""
    kind, axles = model_of(wire)
    return _sound_vehicle(kind, axles, unit) or _vehicle(kind, axles, unit, errors)


def model_of(wire: WireVehicle) -> Model:
    """The texts that a vehicle is read from, the same for all vehicles of a model."""
    # `value` of an enumeration is a property, and would cost as much as all the rest.
    axles = [
        (a.number, a.role._value_, a.distance, a.width_over_tyres, a.tyre_diameter)
        for a in wire.axles
    ]
    return wire.unit._value_, tuple(axles)


@lru_cache(maxsize=1024)  # of 1.4 kB with three axles, of 8 kB with the most allowed
def _sound_vehicle(kind: str, axles: tuple[AxleTexts, ...], unit: str) -> Vehicle | None:
    """A vehicle, kept for the next one of its model; None if anything is wrong with it."""
    errors: list[FieldError] = []
    vehicle = _vehicle(kind, axles, unit, errors)
    return None if errors else vehicle


def _vehicle(
    kind: str, texts: tuple[AxleTexts, ...], unit: str, errors: list[FieldError]
) -> Vehicle:
    axles: list[Axle] = []
    found = len(errors)
    for place, (number, role, distance, width, diameter) in enumerate(texts):
        try:
            axles.append(
                Axle(
                    number,
                    role,
                    parse_length(distance, unit),
                    _tape(width, "width_over_tyres", unit),
                    _tape(diameter, "tyre_diameter", unit),
                )
            )
        except (QuantityError, FaultError):
            errors += _explain(texts[place], place, unit)
    vehicle = Vehicle(kind, tuple(axles))
    if len(errors) == found:
        _check_order(vehicle, errors)
    return vehicle


def _tape(text: str | None, field: str, unit: str) -> float | None:
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


def _explain(axle: AxleTexts, place: int, unit: str) -> list[FieldError]:
    """Everything that is wrong with the texts of one axle."""
    errors = []
    _, _, distance, width, diameter = axle
    for field, text in (
        ("distance", distance),
        ("width_over_tyres", width),
        ("tyre_diameter", diameter),
    ):
        try:
            if field == "distance":
                parse_length(distance, unit)
            else:
                _tape(text, field, unit)
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
