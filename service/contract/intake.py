"""Turns a solution request into what the solver takes, or refuses it with all its faults."""

from collections.abc import Callable, Sequence
from typing import NamedTuple

from service.contract import readings as wire
from service.contract.intake_adjusters import Adjusters
from service.contract.intake_bench import Bench, bench_of
from service.contract.intake_errors import FaultError, refuse, unreadable
from service.contract.intake_quick import note, quick_of
from service.contract.intake_readings import readings_of
from service.contract.intake_targets import targets_of
from service.contract.intake_vehicle import vehicle_of
from service.contract.moulds import SPANS, Poured, spanned
from service.contract.problem_catalogue import (
    NEGATIVE_TAPE_READING,
    READING_IMPOSSIBLE,
    UNREADABLE_TEXT,
)
from service.contract.problems import FieldError
from service.contract.solution import SolutionRequest
from service.geometry.angle_text import parse_angle
from service.geometry.length_text import parse_length
from service.geometry.pattern import Pattern, pattern_of, split
from service.geometry.planning.adjusters import Adjuster
from service.geometry.quantity import QuantityError
from service.geometry.readings import Reading
from service.geometry.targets import TargetSet
from service.geometry.uncertainty import CENTRING, TAPE
from service.geometry.vehicle import Vehicle

OF_TEXTS = frozenset({UNREADABLE_TEXT.type, NEGATIVE_TAPE_READING.type})

SUREST_CENTRING = 1e-6
"""One micrometre; an assumption is not surer than that, in metres."""


STEEPEST_FRAME = 0.2617993877991494
"""15 degrees, in radians: no frame stands steeper on a floor to work on."""


class Readings:
    """The readings of a request in SI; read one by one when they are first asked for."""

    __slots__ = ("_bench", "_found", "_wires")

    def __init__(self, wires: list[wire.Reading], bench: Bench) -> None:
        self._wires = wires
        self._bench = bench
        self._found: tuple[list[Reading], list[int]] | None = None

    def read(self, errors: list[FieldError]) -> tuple[list[Reading], list[int]]:
        """The readings and, for each, its place in the request's `readings`; adds to `errors`."""
        if self._found is None:
            self._found = readings_of(self._wires, self._bench, errors)
        return self._found

    @property
    def readings(self) -> Sequence[Reading]:
        """The readings, which are known to be sound."""
        return self.read([])[0]

    @property
    def places(self) -> Sequence[int]:
        """The place of each of them in the request's `readings`."""
        return self.read([])[1]

    def spreads(self) -> dict[int, float]:
        """Between which points each axle was spanned, metres; the first reading of each counts."""
        found: dict[int, float] = {}
        for reading in self.readings:
            if isinstance(reading, SPANS):
                for axle in spanned(reading):
                    found.setdefault(axle, reading.spread)
        return found


class Intake(NamedTuple):
    """A request in SI units.

    `numbered`: pattern and numbers as the solver takes them.
    """

    vehicle: Vehicle
    numbered: tuple[Pattern, list[float]]
    given: Readings | Poured
    targets: TargetSet
    built_in: bool
    centring_uncertainty: float
    adjusters: Callable[[], dict[int, tuple[Adjuster, ...]]]
    sureness: Callable[[str], tuple[float, float]]

    @property
    def readings(self) -> Sequence[Reading]:
        """The readings in SI."""
        return self.given.readings

    @property
    def places(self) -> Sequence[int]:
        """The place of each of them in the request's `readings`."""
        return self.given.places


def intake_of(request: SolutionRequest) -> Intake:
    """Read a request. Raises ProblemError that names every fault found in it."""
    errors: list[FieldError] = []
    unit = request.length_unit._value_
    usual = not request.instruments
    quick = quick_of(request) if usual else None
    if quick is None:
        vehicle = vehicle_of(request.vehicle, unit, errors)
        sound = not errors
        bench = bench_of(request.instruments, unit, vehicle, errors)
    else:
        vehicle, bench, sound = quick.vehicle, quick.bench, True
    centring, frame = CENTRING, 0.0
    own: list[FieldError] = []
    if request.centring_uncertainty is not None:
        centring = _centring(request.centring_uncertainty, unit, own)
    if request.frame_angle is not None:
        frame = _frame_angle(request.frame_angle, own)
    read = Readings(request.readings, bench)
    given: Readings | Poured = read
    numbered = None if quick is None else quick.numbered(request.readings, centring, frame)
    if quick is not None and numbered is not None:
        given = Poured(quick.moulds, numbered[1])
    if numbered is None:
        found: list[FieldError] = []
        read.read(found)
        # Readings are checked against the axles: with those in doubt, only their texts are judged.
        errors += found if sound else [error for error in found if error.type in OF_TEXTS]
    targets = targets_of(request, errors)
    errors += own
    adjusters = Adjusters(request.vehicle.axles, vehicle.axles, given.spreads, unit)
    if sound:
        adjusters.read_given(errors)
    refuse(errors)
    if numbered is None:
        readings = given.readings
        if usual:
            note(request, bench, readings)
        shape, numbers = split(vehicle, readings, centring, TAPE, frame)
        numbered = pattern_of(shape), numbers
    return Intake(
        vehicle,
        numbered,
        given,
        targets,
        request.targets is None,
        centring,
        adjusters,
        bench.instruments.sureness,
    )


def _centring(text: str, unit: str, errors: list[FieldError]) -> float:
    try:
        value = parse_length(text, unit)
    except QuantityError as error:
        errors.append(unreadable(error, "centring_uncertainty"))
        return CENTRING
    if value < SUREST_CENTRING:
        fault = FaultError(
            READING_IMPOSSIBLE,
            "centring_uncertainty",
            f"a centring uncertainty of {text!r} is negative or zero",
            "Write how far off centre an axle may well sit, such as 1/4 in.",
        )
        errors.append(fault.at())
    return value


def _frame_angle(text: str, errors: list[FieldError]) -> float:
    try:
        value = parse_angle(text)
    except QuantityError as error:
        errors.append(unreadable(error, "frame_angle"))
        return 0.0
    if abs(value) > STEEPEST_FRAME:
        fault = FaultError(
            READING_IMPOSSIBLE,
            "frame_angle",
            f"a frame slope of {text!r} is beyond 15 degrees",
            "Write the slope of the frame rail, down at the rear positive, such as 0.5.",
        )
        errors.append(fault.at())
    return value
