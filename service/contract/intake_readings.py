"""Reads all readings of a request, and names everything that is wrong with those that are."""

from collections.abc import Callable
from typing import Any

from service.contract import readings as wire
from service.contract.intake_bench import Bench
from service.contract.intake_errors import FaultError, unreadable
from service.contract.intake_kinds import READ, wheel_angles
from service.contract.problems import FieldError
from service.contract.readings import WheelAngleReading
from service.geometry import readings as si
from service.geometry.angle_text import parse_angle
from service.geometry.quantity import QuantityError
from service.geometry.toe_text import parse_toe

TAPED_KINDS = frozenset({"frame_gap", "setback_span", "axle_span", "kingpin_span", "toe_width"})
"""Kinds whose lengths a tape shows."""

ANGLE_KINDS = frozenset({"wheel_angle", "caster_sweep", "wedge"})


def readings_of(
    wires: list[wire.Reading], bench: Bench, errors: list[FieldError]
) -> tuple[list[si.Reading], list[int]]:
    """The readings in SI and, for each, the place of the request's reading it came from.

    Adds to `errors` whatever is wrong with any of them.
    """
    found: list[si.Reading] = []
    places: list[int] = []
    for place, reading in enumerate(wires):
        try:
            if type(reading) is WheelAngleReading:
                angles = wheel_angles(reading, bench)
                found += angles
                places += [place] * len(angles)
            else:
                found.append(READ[type(reading)](reading, bench))
                places.append(place)
        except (QuantityError, FaultError) as error:
            errors += _explain(reading, place, bench, error)
    return found, places


def _explain(
    reading: wire.Reading, place: int, bench: Bench, first: QuantityError | FaultError
) -> list[FieldError]:
    """Everything that is wrong with the fields of one reading; `first` is what stopped it."""
    errors = []
    for field, check in FIELD_CHECKS.items():
        value = getattr(reading, field, None)
        if value is None:
            continue
        try:
            check(reading, value, field, bench)
        except QuantityError as error:
            errors.append(unreadable(error, "readings", place, field))
        except FaultError as fault:
            errors.append(fault.at("readings", place))
    if not errors and isinstance(first, FaultError):
        errors.append(first.at("readings", place))
    if not errors:
        raise AssertionError(f"reading {place} was refused and no field explains why")
    return errors


def _check_text(reading: Any, value: Any, field: str, bench: Bench) -> None:
    kind = reading.__struct_config__.tag
    if kind in ANGLE_KINDS:
        parse_angle(value)
    elif kind in TAPED_KINDS:
        bench.tape(value, field)
    else:
        bench.lengths[value]


def _check_toe(reading: Any, value: Any, field: str, bench: Bench) -> None:
    if isinstance(reading, wire.ToeScaleReading):
        parse_toe(value, bench.unit)
    else:
        parse_angle(value)


def _check_axle(reading: Any, value: Any, field: str, bench: Bench) -> None:
    bench.axles.named(value, field)


def _check_span(reading: Any, value: Any, field: str, bench: Bench) -> None:
    bench.span(value, field)


def _check_angle(reading: Any, value: Any, field: str, bench: Bench) -> None:
    parse_angle(value)


def _check_uncertainty(reading: Any, value: Any, field: str, bench: Bench) -> None:
    bench.sure(reading.__struct_config__.tag, value, None)


FIELD_CHECKS: dict[str, Callable[[Any, Any, str, Bench], None]] = {
    "axle": _check_axle,
    "reference": _check_axle,
    "front_axle": _check_axle,
    "rear_axle": _check_axle,
    "left": _check_text,
    "right": _check_text,
    "front": _check_text,
    "rear": _check_text,
    "spread": _check_span,
    "baseline": _check_span,
    "toe": _check_toe,
    "camber": _check_angle,
    "caster": _check_angle,
    "turn": _check_angle,
    "camber_left_turn": _check_angle,
    "camber_right_turn": _check_angle,
    "uncertainty": _check_uncertainty,
}
