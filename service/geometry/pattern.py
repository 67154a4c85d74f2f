"""Which equations and unknowns a set of readings makes, worked out once a pattern.

A pattern is everything but the numbers: the kind of vehicle, its axles, and the kinds of readings
in their order. Shops read the same pattern truck after truck, so it is kept and used again.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from itertools import pairwise
from typing import TYPE_CHECKING, Any, NamedTuple

from service.geometry.estimability import Estimability
from service.geometry.normal import Group, elimination_order
from service.geometry.quantities import Quantity, quantities_of
from service.geometry.readings import Reading, Shape
from service.geometry.row_making import RowMaker
from service.geometry.rows import Row
from service.geometry.vehicle import DEFAULT_WIDTH, STEERED_ROLES, Vehicle

if TYPE_CHECKING:
    from service.geometry.findings import Judgement

AxleShape = tuple[int, str, bool, bool, bool]
"""Number, role, steered, whether a width was taped, whether a tyre diameter is given."""


SPREAD_KINDS = frozenset({"setback_span", "axle_span", "kingpin_span"})
"""Kinds of reading that state how far apart their two measuring points are."""


class PatternShape(NamedTuple):
    """What makes two vehicles alike for the solver."""

    kind: str
    towed: bool
    axles: tuple[AxleShape, ...]
    readings: tuple[Shape, ...]


class Assumed(NamedTuple):
    """An axle taken as centred because its centring was not read."""

    axle: int
    unknown: int


class Pattern:
    """Equations, groups and derived quantities of one pattern.

    Attributes: `groups` (independent systems), `quantities` (what can be told, in answer order),
    `assumed` (axles taken as centred), `pairs` (numbers of neighbours that do not steer),
    `unknowns` (how many there are, held ones included), `rows` (how many equations the groups
    have together), `unnoticed` (changes of the unknowns that no reading notices), `judgements`
    (rows of the built-in target sets that apply, kept by set), `unknown_of` (by name and axle
    number), and where an axle's distance, width and the spread of its first reading of a kind stand
    among the numbers, as do those of each reading (`starts`). `seen` counts vehicles until it is
    worth while to compile the pattern, `kept` is room for what others work out once a pattern.
    """

    def __init__(self, shape: PatternShape):
        self.shape = shape
        maker = RowMaker(shape.towed, shape.axles, shape.readings)
        self.unknowns = len(maker.unknowns)
        self.unknown_of = {
            (name, shape.axles[place][0]): unknown
            for (name, place), unknown in maker.unknowns.items()
        }
        self.distance_of = {axle[0]: maker.distance(at) for at, axle in enumerate(shape.axles)}
        self.width_of = {axle[0]: maker.width(at) for at, axle in enumerate(shape.axles)}
        self.starts = maker.starts
        self.spread_of = spreads_of(shape.readings, maker.starts)
        self.assumed = [Assumed(axle, unknown) for axle, unknown in maker.assumed]
        telling = Estimability(maker.rows, self.unknowns, maker.nominal_numbers())
        self.unnoticed = telling.unnoticed()
        straight = [axle[0] for axle in shape.axles if not axle[2]]
        self.pairs = list(pairwise(straight))
        self.groups = _groups(maker.rows, telling.kept)
        self.rows = sum(len(group.rows) for group in self.groups)
        self.group_of = {
            unknown: number for number, group in enumerate(self.groups) for unknown in group.order
        }
        self.quantities: list[Quantity] = quantities_of(maker, telling, self.groups, self.group_of)
        self.probes = _probes(self.quantities)
        self.judgements: dict[str, list[Judgement]] = {}
        self.seen = 0
        self.kept: dict[object, Any] = {}


Probe = tuple[int, int, tuple[int, ...]]
"""Group, place and columns of an unknown whose variance is wanted by itself."""


def _probes(quantities: Sequence[Quantity]) -> list[Probe]:
    """Unknowns that quantities hang on singly; several share one, so it is worked out once."""
    found: dict[Probe, int] = {}
    for quantity in quantities:
        if len(quantity.parts) == 1 and len(quantity.parts[0].places) == 1:
            group, ((term, place),), columns = quantity.parts[0]
            quantity.term = term
            quantity.probe = found.setdefault((group, place, columns), len(found))
    return list(found)


def spreads_of(shapes: Sequence[Shape], starts: Sequence[int]) -> dict[tuple[str, int], int]:
    """Where the spread of each axle's first reading of a kind stands among the numbers."""
    found: dict[tuple[str, int], int] = {}
    for shape, start in zip(shapes, starts, strict=True):
        if shape[0] in SPREAD_KINDS:
            for axle in shape[1:]:
                found.setdefault((str(shape[0]), int(axle)), start + 2)
    return found


def _groups(rows: Sequence[Row], kept: frozenset[int]) -> list[Group]:
    """Split the kept unknowns into sets that no equation connects."""
    sets: list[set[int]] = []
    for row in rows:
        joined = {unknown for unknown in row.unknowns if unknown in kept}
        for other in [s for s in sets if s & joined]:
            joined |= other
            sets.remove(other)
        if joined:
            sets.append(joined)
    groups = []
    for members in sorted(sets, key=min):
        own = [row for row in rows if members & set(row.unknowns)]
        touched = [[u for u in row.unknowns if u in members] for row in own]
        groups.append(Group(elimination_order(members, touched), own))
    return groups


@lru_cache(maxsize=512)  # of 30 kB with the usual readings, of 200 kB with the most allowed
def pattern_of(shape: PatternShape) -> Pattern:
    """Return the pattern of a shape, kept for the next vehicle that is read the same way."""
    return Pattern(shape)


def split(
    vehicle: Vehicle,
    readings: Sequence[Reading],
    centring_uncertainty: float,
    width_uncertainty: float,
    frame_angle: float = 0.0,
) -> tuple[PatternShape, list[float]]:
    """Split a vehicle and its readings into their shape and their numbers.

    The numbers stand in the order that `RowMaker` counts on: the two uncertainties and the frame's
    slope (radians, down at the rear positive), then
    distances, widths and tyre diameters of all axles, then each reading's own numbers.
    """
    towed, forms, lengths = _framed(vehicle)
    numbers = [centring_uncertainty, width_uncertainty, frame_angle, *lengths]
    shapes = []
    for reading in readings:
        numbers += reading.numbers()
        shapes.append(reading.shape())
    shape: PatternShape = tuple.__new__(  # which calls no Python code, as the class would
        PatternShape, (vehicle.kind, towed, forms, tuple(shapes))
    )
    return shape, numbers


@lru_cache(maxsize=1024)  # of 0.6 kB with three axles, of 2 kB with the most allowed
def _framed(vehicle: Vehicle) -> tuple[bool, tuple[AxleShape, ...], tuple[float, ...]]:
    """Whether it is towed, its axles' shapes and their lengths, kept for the next of its model."""
    axles = vehicle.axles
    forms = [
        (number, role, role in STEERED_ROLES, width is not None, diameter is not None)
        for number, role, _, width, diameter in axles
    ]
    lengths = [axle.distance for axle in axles]
    lengths += [DEFAULT_WIDTH if axle.width is None else axle.width for axle in axles]
    lengths += [axle.tyre_diameter or 0.0 for axle in axles]
    return vehicle.towed, tuple(forms), tuple(lengths)
