"""Reads vehicles that come again and again, and their usual readings, by code written for them.

A shop sends the same readings for truck after truck: the same kinds of the same axles with the same
options, of vehicles of few models. For such a row of readings a function is written out as Python
source once, in the way that `dataclasses` writes `__init__`. It takes the texts straight to the
numbers that the solver wants, and takes its hands off, by returning None, whenever anything is not
as usual or cannot be true: then `intake_readings` reads all of it, and says what is wrong.
"""

from collections.abc import Callable, Iterator, Sequence
from typing import Any, NamedTuple

import msgspec

from service.contract import readings as wire
from service.contract.intake_bench import STEEPEST, Bench
from service.contract.intake_errors import FaultError
from service.contract.intake_kinds import READ
from service.contract.intake_vehicle import SHORTEST, Model, model_of
from service.contract.members import member_counter
from service.contract.moulds import Moulds
from service.contract.solution import SolutionRequest
from service.contract.vehicle import Vehicle as WireVehicle
from service.geometry.angle_text import ANGLES
from service.geometry.latest import Latest
from service.geometry.pattern import Pattern, pattern_of, split
from service.geometry.quantity import QuantityError
from service.geometry.readings import Reading, Shape
from service.geometry.uncertainty import TAPE
from service.geometry.vehicle import Vehicle

EARNED = 3
"""Times that a row of readings comes before its function is written, which costs some fifty."""

MOST_KEPT = 512
"""Functions that are kept, of some 10 kB each."""

MOST_TEXTS = 64
"""Texts of a reading of the rarer kinds whose numbers are kept, of each function."""

Read = Callable[[Sequence[wire.Reading], Bench], list[float] | None]
Key = tuple[str, Model, tuple[type, ...]]
"""Unit, the vehicle's texts, and the kinds of its readings: what one function is for."""


class Quick(NamedTuple):
    """How a vehicle of one model and one row of readings is read.

    `lengths` are the numbers of the vehicle, which stand between those of the request and those of
    the readings; `read` gives the latter, and `moulds` are what they are poured into where the
    readings themselves are asked for. `members`: how many members of JSON objects vehicle and
    readings were read from, at least.
    """

    vehicle: Vehicle
    bench: Bench
    pattern: Pattern
    lengths: Sequence[float]
    read: Read
    moulds: Moulds
    members: int

    def numbered(
        self, wires: Sequence[wire.Reading], centring: float, frame: float
    ) -> tuple[Pattern, list[float]] | None:
        """The pattern and its numbers; None where the readings are to be read one by one.

        `centring`: standard uncertainty of the assumption that an axle sits centred, metres;
        `frame`: the frame's slope, radians.
        """
        try:
            numbers = self.read(wires, self.bench)
        except (QuantityError, FaultError):
            return None
        if numbers is None:
            return None
        return self.pattern, [centring, TAPE, frame, *self.lengths, *numbers]


_kept = Latest[Key, Quick | int](MOST_KEPT)


def quick_of(request: SolutionRequest) -> Quick | None:
    """How a request is read quickly, None where it is not; it must tell of no instruments."""
    found = _kept.get(_key(request))
    return found if isinstance(found, Quick) else None


def note(request: SolutionRequest, bench: Bench, readings: Sequence[Reading]) -> None:
    """Note that a request, found sound, came once more; its like may earn a function of its own."""
    key = _key(request)
    count = _kept.get(key, 0)
    if not isinstance(count, int):
        return
    quick = None
    if count + 1 == EARNED:
        members = _members(request.vehicle, request.readings)
        quick = _written(request.readings, bench, readings, members)
    _kept.keep(key, count + 1 if quick is None else quick)


def _key(request: SolutionRequest) -> Key:
    kinds = tuple(map(type, request.readings))
    return request.length_unit._value_, model_of(request.vehicle), kinds


def _members(vehicle: WireVehicle, wires: Sequence[wire.Reading]) -> int:
    """Members that any vehicle and readings have which are taken for these: see `members`.

    How an axle can be moved is not looked at, and so not counted.
    """
    axles = [msgspec.structs.replace(axle, adjusters=None) for axle in vehicle.axles]
    alike = msgspec.structs.replace(vehicle, axles=axles)
    # Each reading has a member more, which names its kind.
    return len(wires) + sum(_counted(struct) for struct in (alike, *wires))


def _counted(struct: msgspec.Struct) -> int:
    counter = member_counter(type(struct))
    assert counter is not None, "vehicles and readings hold no mappings"
    return counter(struct)


def _written(
    wires: Sequence[wire.Reading], bench: Bench, readings: Sequence[Reading], members: int
) -> Quick | None:
    """A function for readings like these; None for those that must be read one by one."""
    if any(isinstance(one, wire.WheelAngleReading) for one in wires):
        return None  # it holds one angle to three
    names: dict[str, Any] = {"A": ANGLES}
    tests: list[str] = []
    steps: list[str] = []
    parts: list[str] = []
    for place, (one, reading) in enumerate(zip(wires, readings, strict=True)):
        options = list(_options(one, f"r{place}"))
        if None in options:
            return None
        tests += [option for option in options if option]
        _add(one, reading, place, steps, parts, names)
    lines = [f"{', '.join(f'r{place}' for place in range(len(wires)))}, = wires"]
    lines += [f"if {' or '.join(tests)}: return None", "L = bench.lengths", *steps]
    lines.append(f"return [{', '.join(parts)}]")
    exec("\n    ".join(["def read(wires, bench):", *lines]), names)  # noqa: S102 - of our own names
    read: Read = names["read"]
    shape, numbers = split(bench.vehicle, readings, 1.0, 1.0)
    own = sum(len(reading.numbers()) for reading in readings)
    if read(wires, bench) != numbers[len(numbers) - own :]:
        raise AssertionError("what is read quickly differs from what is read one by one")
    lengths = tuple(numbers[3 : len(numbers) - own])
    moulds = Moulds(readings, len(numbers) - own)
    return Quick(bench.vehicle, bench, pattern_of(shape), lengths, read, moulds, members)


NAMED = frozenset({"axle", "reference", "front_axle", "rear_axle"})
SURENESS = frozenset({"uncertainty", "instrument"})


def _options(one: wire.Reading, name: str) -> Iterator[str | None]:
    """Tests that are true of a reading whose axles and options differ; None: they always may."""
    options = one.__struct_fields__[-len(one.__struct_defaults__) :]
    for field in one.__struct_fields__:
        value = getattr(one, field)
        if field in SURENESS:
            yield None if value is not None else f"{name}.{field} is not None"
        elif field in NAMED:
            yield f"{name}.{field} is not None" if value is None else f"{name}.{field} != {value}"
        elif field == "baseline":
            yield f"{name}.{field} is {'not ' if value is None else ''}None"
        elif field in options:
            yield None


def _add(
    one: wire.Reading,
    reading: Reading,
    place: int,
    steps: list[str],
    parts: list[str],
    names: dict[str, Any],
) -> None:
    """Add the lines that read one reading, and the numbers that it gives."""
    name, left, right = f"r{place}", f"a{place}", f"b{place}"
    lengths = f"{left} = L[{name}.left]; {right} = L[{name}.right]"
    *_, u = reading.numbers()
    if isinstance(one, wire.SightlineReading):
        *_, u, rehang = reading.numbers()
        steps.append(lengths)
        parts += [left, right, repr(u), repr(rehang)]
    elif isinstance(one, wire.FrameGapReading):
        steps += [lengths, f"if {left} < 0.0 or {right} < 0.0: return None"]
        parts += [left, right, repr(u)]
    elif isinstance(one, wire.SetbackSpanReading | wire.AxleSpanReading | wire.KingpinSpanReading):
        spread = f"c{place}"
        steps += [
            f"{lengths}; {spread} = L[{name}.spread]",
            f"if {left} < 0.0 or {right} < 0.0 or {spread} < {SHORTEST!r} "
            f"or abs({right} - {left}) > {spread} * {STEEPEST!r}: return None",
        ]
        parts += [left, right, spread, repr(u)]
    elif isinstance(one, wire.WedgeReading):
        rear = wire.ThickEnd.REAR
        names["REAR"] = rear
        steps += [
            f"{left} = A[{name}.left]; {right} = A[{name}.right]",
            f"if not (0.0 <= {left} <= {STEEPEST!r} and 0.0 <= {right} <= {STEEPEST!r}): "
            "return None",
        ]
        parts += [
            f"{side} if {name}.{end}_thick_end is REAR else -{side}"
            for side, end in ((left, "left"), (right, "right"))
        ]
        parts.append(repr(u))
    else:
        own = [field for field in one.__struct_fields__ if field not in NAMED | SURENESS]
        texts = "".join(f"{name}.{field}, " for field in own)
        known = Latest[tuple[Any, ...], tuple[float, ...]](MOST_TEXTS)
        names[f"known{place}"] = known
        names[f"read{place}"] = _remembering(known, reading.shape())
        steps += [
            f"k{place} = ({texts})",
            f"d{place} = known{place}.get(k{place}) or read{place}(k{place}, {name}, bench)",
            f"if d{place} is None: return None",
        ]
        parts.append(f"*d{place}")


def _remembering(
    known: Latest[tuple[Any, ...], tuple[float, ...]], shape: Shape
) -> Callable[[tuple[Any, ...], wire.Reading, Bench], tuple[float, ...] | None]:
    """Reads a reading and keeps its numbers by its texts; None for one of another shape."""

    def read(texts: tuple[Any, ...], one: wire.Reading, bench: Bench) -> tuple[float, ...] | None:
        reading: Reading = READ[type(one)](one, bench)
        if reading.shape() != shape:
            return None
        numbers = reading.numbers()
        known.keep(texts, numbers)
        return numbers

    return read
