"""Turns a repeatability request into series in SI units, or refuses it with all its faults."""

from typing import NamedTuple

from service.contract.intake_bench import STEEPEST
from service.contract.intake_errors import FaultError, refuse, unreadable
from service.contract.intake_uncertainty import ANGLE_KINDS, FINEST_ANGLE, FINEST_LENGTH
from service.contract.intake_vehicle import SHORTEST
from service.contract.problem_catalogue import (
    CONTRACT_BROKEN,
    NEGATIVE_TAPE_READING,
    READING_IMPOSSIBLE,
)
from service.contract.problems import FieldError
from service.contract.readings import ReadingKind
from service.contract.repeatabilities import RepeatabilityRequest, RepeatedSeries
from service.geometry.angle_text import parse_angle
from service.geometry.length_text import parse_length
from service.geometry.quantity import QuantityError
from service.geometry.repeatability import Series
from service.geometry.toe_text import parse_toe

SIDES = ("left", "right", "values")
TAPED = frozenset({"frame_gap", "setback_span", "axle_span", "kingpin_span", "toe_width"})


class Pool(NamedTuple):
    """Series of one kind and instrument; `resolution` is the coarsest given, 0 when none was."""

    kind: ReadingKind
    instrument: str | None
    series: list[Series]
    resolution: float


def pools_of(request: RepeatabilityRequest) -> list[Pool]:
    """Read a request. Raises ProblemError that names every fault found in it."""
    errors: list[FieldError] = []
    pools: dict[tuple[ReadingKind, str | None], Pool] = {}
    unit = request.length_unit.value
    names: dict[str | None, ReadingKind] = {}
    for place, wire in enumerate(request.series):
        found = len(errors)
        if wire.instrument and names.setdefault(wire.instrument, wire.kind) is not wire.kind:
            errors.append(_of_two_kinds(wire, names[wire.instrument]).at("series", place))
        series, resolution = _series(wire, place, unit, errors)
        if len(errors) > found:
            continue
        key = (wire.kind, wire.instrument)
        pool = pools.get(key) or Pool(wire.kind, wire.instrument, [], 0.0)
        pools[key] = Pool(
            pool.kind,
            pool.instrument,
            [*pool.series, *series],
            max(pool.resolution, resolution),
        )
    refuse(errors)
    return list(pools.values())


def _of_two_kinds(wire: RepeatedSeries, other: ReadingKind) -> FaultError:
    return FaultError(
        CONTRACT_BROKEN,
        "instrument",
        f"the instrument {wire.instrument!r} reads {other.value} in another series",
        "Give an instrument a name of its own for every kind that it reads.",
    )


def _series(
    wire: RepeatedSeries, place: int, unit: str, errors: list[FieldError]
) -> tuple[list[Series], float]:
    """The series of each side and the resolution."""
    kind = wire.kind.value
    distance = _field(wire, "distance", place, unit, errors)
    resolution = _field(wire, "resolution", place, unit, errors)
    series = []
    for side in SIDES:
        texts: list[str] | None = getattr(wire, side)
        if texts is None:
            continue
        readings = []
        for i, text in enumerate(texts):
            try:
                readings.append(_reading(kind, text, unit))
            except QuantityError as error:
                errors.append(unreadable(error, "series", place, side, i))
            except FaultError as fault:
                errors.append(fault.at("series", place, side, i))
        where = (wire.vehicle, wire.axle, side, distance)
        series.append(Series(where, wire.operator, readings, distance))
    if not series:
        errors.append(
            FaultError(
                CONTRACT_BROKEN,
                "",
                "the series has no readings",
                "Give `left`, `right` or both, or `values` where the kind has no sides.",
            ).at("series", place)
        )
    return series, resolution or 0.0


def _reading(kind: str, text: str, unit: str) -> float:
    if kind in ANGLE_KINDS:
        angle = parse_angle(text)
        if abs(angle) > STEEPEST:
            raise FaultError(
                READING_IMPOSSIBLE,
                "",
                f"a reading of {text!r} is beyond 45 degrees",
                "Write the angle in degrees, such as 0.25 or 0°15'.",
            )
        return angle
    if kind == "toe_scale":
        spelled, toe = parse_toe(text, unit)
        if spelled != "length":
            raise FaultError(
                CONTRACT_BROKEN,
                "",
                f"a toe of {text!r} is no length, and toe_scale instruments are rated in length",
                "Write what the scale shows as a length, such as 1/16 in.",
            )
        return toe
    length = parse_length(text, unit)
    if length < 0 and kind in TAPED:
        raise FaultError(
            NEGATIVE_TAPE_READING,
            "",
            f"a tape cannot read {text!r}",
            "Write the length as the tape shows it, without a sign.",
        )
    return length


def _field(
    wire: RepeatedSeries, field: str, place: int, unit: str, errors: list[FieldError]
) -> float | None:
    text: str | None = getattr(wire, field)
    if text is None:
        return None
    try:
        return (_distance if field == "distance" else _resolution)(wire.kind.value, text, unit)
    except QuantityError as error:
        errors.append(unreadable(error, "series", place, field))
    except FaultError as fault:
        errors.append(fault.at("series", place))
    return None


def _distance(kind: str, text: str, unit: str) -> float:
    if kind != "sightline":
        raise FaultError(
            CONTRACT_BROKEN,
            "distance",
            f"a reading of kind {kind} has no distance",
            "Leave `distance` out: only a sightline's aim grows with it.",
        )
    distance = parse_length(text, unit)
    if distance < SHORTEST:
        raise FaultError(
            READING_IMPOSSIBLE,
            "distance",
            f"a distance of {text!r} is too short for a line",
            "Write how far the scale stands from the axle, such as 187 1/2 in.",
        )
    return distance


def _resolution(kind: str, text: str, unit: str) -> float:
    angle = kind in ANGLE_KINDS
    step = parse_angle(text) if angle else parse_length(text, unit)
    if step < (FINEST_ANGLE if angle else FINEST_LENGTH):
        raise FaultError(
            READING_IMPOSSIBLE,
            "resolution",
            f"a resolution of {text!r} is negative, zero or finer than any scale",
            "Write the smallest step of the scale, such as 1/16 in, 1 mm or 0.05°.",
        )
    return step
