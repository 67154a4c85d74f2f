"""Reads how the axles of a request can be moved."""

from service.contract import vehicle as wire
from service.contract.intake_errors import FaultError, unreadable
from service.contract.intake_vehicle import SHORTEST
from service.contract.problem_catalogue import CONTRACT_BROKEN, READING_IMPOSSIBLE
from service.contract.problems import FieldError
from service.geometry.angle_text import parse_angle
from service.geometry.length_text import parse_length
from service.geometry.planning.adjusters import (
    AXLE_ENDS,
    LONGITUDINAL,
    TIE_ROD,
    WEDGE,
    WEDGE_STEP,
    Adjuster,
    usual_adjusters,
)
from service.geometry.quantity import QuantityError
from service.geometry.vehicle import Axle

END = {
    wire.AdjusterEnds.BOTH_ENDS: None,
    wire.AdjusterEnds.LEFT_END: "left",
    wire.AdjusterEnds.RIGHT_END: "right",
}
FINEST_PITCH = 0.0001
"""A thread finer than a tenth of a millimetre is a slip of the pen, in metres."""


def adjusters_of(
    wires: list[wire.Axle],
    axles: tuple[Axle, ...],
    unit: str,
    spreads: dict[int, float],
    errors: list[FieldError],
) -> dict[int, tuple[Adjuster, ...]]:
    """Adjusters by axle number, adding to `errors` whatever is wrong with them.

    `spreads`: between which points an axle was read, metres, for those that describe none.
    """
    found = {}
    for place, (given, axle) in enumerate(zip(wires, axles, strict=True)):
        if given.adjusters is None:
            found[axle.number] = usual_adjusters(axle.steered, spreads.get(axle.number))
        else:
            found[axle.number] = _given(
                given.adjusters, place, unit, spreads.get(axle.number), errors
            )
    return found


def _given(
    wires: list[wire.Adjuster],
    place: int,
    unit: str,
    spread: float | None,
    errors: list[FieldError],
) -> tuple[Adjuster, ...]:
    found = []
    for number, adjuster in enumerate(wires):
        steps = ("vehicle", "axles", place, "adjusters", number)
        try:
            found.append(_adjuster(adjuster, unit, spread))
        except FaultError as fault:
            errors.append(fault.at(*steps))
        except QuantityError as error:
            errors.append(unreadable(error, *steps))
    return tuple(found)


def _adjuster(given: wire.Adjuster, unit: str, spread: float | None) -> Adjuster:
    kind = given.kind.value
    if kind == TIE_ROD and (given.thread_pitch is None) != (given.arm_length is None):
        raise FaultError(
            CONTRACT_BROKEN,
            "thread_pitch" if given.thread_pitch is None else "arm_length",
            "turns of a tie rod follow from its thread pitch and its arm length together",
            "Give both, or neither.",
        )
    if kind == TIE_ROD and given.increment is not None and given.thread_pitch is None:
        raise FaultError(
            CONTRACT_BROKEN,
            "increment",
            "parts of a turn mean nothing without thread pitch and arm length",
            "Give `thread_pitch` and `arm_length`, or leave `increment` out.",
        )
    return Adjuster(
        kind,
        END[given.ends] if kind in (LONGITUDINAL, WEDGE) else None,
        _length(given, "spread", unit, SHORTEST) or spread or AXLE_ENDS,
        _step(given, "increment", unit) or (WEDGE_STEP if kind == WEDGE else None),
        _step(given, "travel", unit, least=0.0),
        _length(given, "thread_pitch", unit, FINEST_PITCH),
        _length(given, "arm_length", unit, SHORTEST),
        2 if given.threads is wire.TieRodThreads.BOTH_HANDS else 1,
    )


def _length(given: wire.Adjuster, field: str, unit: str, least: float) -> float | None:
    text: str | None = getattr(given, field)
    if text is None:
        return None
    value = parse_length(text, unit)
    if value < least:
        raise FaultError(
            READING_IMPOSSIBLE,
            field,
            f"{field} is {text!r}, too short for an adjuster",
            "Write the length as it is on the vehicle, such as 33 1/2 in or 1.5 mm.",
        )
    return value


def _step(given: wire.Adjuster, field: str, unit: str, least: float = 1e-6) -> float | None:
    text: str | None = getattr(given, field)
    if text is None:
        return None
    if given.kind is wire.AdjusterKind.WEDGE:
        value = parse_angle(text)
    elif given.kind is wire.AdjusterKind.TIE_ROD:
        # Turns are a bare number, whole or a fraction: read as millimetres, they are its count.
        value = parse_length(text, "mm") * 1000
    else:
        value = parse_length(text, unit)
    if value < least:
        raise FaultError(
            READING_IMPOSSIBLE,
            field,
            f"{field} is {text!r}: negative or nothing",
            "Write a positive step, such as 1/16 in, 0.5 (degrees of a wedge) or 1/4 (turn).",
        )
    return value
