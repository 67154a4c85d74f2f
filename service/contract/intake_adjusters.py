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
from service.geometry.readings import AxleSpan, KingpinSpan, Reading, SetbackSpan
from service.geometry.vehicle import Axle

END = {
    wire.AdjusterEnds.BOTH_ENDS: None,
    wire.AdjusterEnds.LEFT_END: "left",
    wire.AdjusterEnds.RIGHT_END: "right",
}
FINEST_PITCH = 0.0001
"""A thread finer than a tenth of a millimetre is a slip of the pen, in metres."""


class Adjusters:
    """How the axles of one request can be moved; asked only when something has to move."""

    def __init__(
        self,
        wires: list[wire.Axle],
        axles: tuple[Axle, ...],
        readings: list[Reading],
        unit: str,
    ) -> None:
        self.wires = wires
        self.axles = axles
        self.readings = readings
        self.unit = unit
        self.given: dict[int, tuple[Adjuster, ...]] = {}

    def read_given(self, errors: list[FieldError]) -> None:
        """Read what axles say of themselves, adding to `errors` whatever is wrong with it."""
        for place, axle in enumerate(self.wires):
            if axle.adjusters is not None:
                spread = spreads_read(self.readings).get(axle.number)
                self.given[axle.number] = _given(axle.adjusters, place, self.unit, spread, errors)

    def __call__(self) -> dict[int, tuple[Adjuster, ...]]:
        """Adjusters by axle number: as described, else the usual ones."""
        spreads = spreads_read(self.readings)
        return {
            axle.number: self.given[axle.number]
            if axle.number in self.given
            else usual_adjusters(axle.steered, spreads.get(axle.number))
            for axle in self.axles
        }


def spreads_read(readings: list[Reading]) -> dict[int, float]:
    """Between which points each axle was spanned, metres; the first reading of each counts."""
    found: dict[int, float] = {}
    for reading in readings:
        if isinstance(reading, AxleSpan):
            found.setdefault(reading.front, reading.spread)
            found.setdefault(reading.rear, reading.spread)
        elif isinstance(reading, SetbackSpan | KingpinSpan):
            found.setdefault(reading.axle, reading.spread)
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
