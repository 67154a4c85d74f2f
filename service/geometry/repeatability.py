"""What a shop's own readings are good for: repeated hangings and tapings to uncertainties.

A *place* is one thing that was read: one side of one axle of one vehicle, with one kind of
reading. What differs between places is the vehicles' and tells nothing; what differs between
repetitions of one operator at one place is repeatability, and between operators at one place
reproducibility (ISO 5725-2 read with operators for laboratories, so strictly an intermediate
precision of one shop). Every figure is for one side of one reading. Errors that repetition
repeats, such as a scale that is wrong all along, are not in it.
"""

from collections.abc import Hashable, Sequence
from math import sqrt
from typing import NamedTuple

from service.geometry.anova import Precision, precision
from service.geometry.student import coverage_factor
from service.geometry.uncertainty import from_resolution

LEAST_RATIO = 1.5
"""Longest over shortest distance from which a re-hang angle is told apart (our choice)."""

_STEPS = 100


class Series(NamedTuple):
    """Repeated readings of one operator at one place, metres or radians.

    `distance`: of a sightline, from the tyre that the line is held to, to the scale; else None.
    """

    place: Hashable
    operator: str
    readings: Sequence[float]
    distance: float | None = None


class AimSplit(NamedTuple):
    """Scatter of a line told apart by distance: variance = reading^2 + (distance x rehang)^2."""

    reading: float
    rehang: float


class Repeatability(NamedTuple):
    """Uncertainty of one side of one reading of a kind, type A (JCGM 100:2008, 4.2).

    `scatter` is the standard uncertainty seen: the reproducibility where operators shared a
    place, else the repeatability; with its `degrees_of_freedom` and the `coverage_factor` for
    95 %. `floor` is what the scale's resolution alone gives. `split` is None when distances tell
    nothing apart. Counts are of places, operators and single readings.
    """

    precision: Precision
    scatter: float
    degrees_of_freedom: float
    coverage_factor: float
    floor: float
    split: AimSplit | None
    places: int
    operators: int
    readings: int


def repeatability(series: Sequence[Series], resolution: float = 0.0) -> Repeatability:
    """Pool series of one kind over operators and places.

    `resolution` is the smallest step of the scale, in the unit of the readings: a scatter below
    a rectangular law of that width (JCGM 100:2008, F.2.2.1) has not been seen, only not shown.
    Raises ValueError when no series has two readings.
    """
    levels = _levels(series)
    seen = precision([list(level.values()) for level in levels.values()])
    scatter, freedom = _of_any_operator(seen)
    return Repeatability(
        precision=seen,
        scatter=scatter,
        degrees_of_freedom=freedom,
        coverage_factor=coverage_factor(freedom),
        floor=from_resolution(resolution),
        split=_split(series, levels),
        places=len(levels),
        operators=len({one.operator for one in series}),
        readings=sum([len(one.readings) for one in series]),
    )


def split_by_distance(spots: Sequence[tuple[float, float, int]]) -> AimSplit | None:
    """Tell a line's aim from the reading of its scale by how scatter grows with distance.

    `spots` are (distance, variance, degrees of freedom). The fit is by maximum likelihood of the
    normal law, exact through two distances, both parts not below 0. None when there is no
    scatter, or distances differ less than `LEAST_RATIO` times.
    """
    used = [spot for spot in spots if spot[2] > 0 and spot[0] > 0.0]
    if not used or not any(variance > 0.0 for _, variance, _ in used):
        return None
    distances = [distance for distance, _, _ in used]
    if max(distances) < LEAST_RATIO * min(distances):
        return None
    base, slope = _likeliest([(d * d, variance, df) for d, variance, df in used])
    return AimSplit(sqrt(base), sqrt(slope))


def _of_any_operator(seen: Precision) -> tuple[float, float]:
    if seen.reproducibility is None or seen.df_reproducibility is None:
        return seen.repeatability, seen.df_repeatability
    # At least 1 by its formula; rounding may take it a hair below.
    return seen.reproducibility, max(1.0, seen.df_reproducibility)


Levels = dict[Hashable, dict[str, list[float]]]


def _levels(series: Sequence[Series]) -> Levels:
    """Readings by place and operator; an operator who came back to a place goes on there."""
    levels: Levels = {}
    for one in series:
        levels.setdefault(one.place, {}).setdefault(one.operator, []).extend(one.readings)
    return levels


def _split(series: Sequence[Series], levels: Levels) -> AimSplit | None:
    distances = {one.place: one.distance for one in series}
    spots = []
    for place, operators in levels.items():
        distance = distances[place]
        if distance is None:
            return None
        groups = list(operators.values())
        if any(len(group) > 1 for group in groups):
            one = precision([groups])
            spots.append((distance, one.repeatability**2, one.df_repeatability))
    split = split_by_distance(spots)
    if split is None:
        return None
    # In units of its own expected scatter every place counts alike, and what operators add to
    # repetition comes out as a factor on both parts.
    scaled = []
    for place, operators in levels.items():
        size = sqrt(split.reading**2 + (split.rehang * (distances[place] or 0.0)) ** 2)
        scaled.append([[reading / size for reading in group] for group in operators.values()])
    factor, _ = _of_any_operator(precision(scaled))
    return AimSplit(split.reading * factor, split.rehang * factor)


def _likeliest(spots: Sequence[tuple[float, float, int]]) -> tuple[float, float]:
    """Base and slope, not below 0, of variances that grow with x: spots are (x, variance, df)."""
    freedom = sum([df for _, _, df in spots])
    flat = sum([df * variance for _, variance, df in spots]) / freedom
    steep = sum([df * variance / x for x, variance, df in spots]) / freedom
    base, slope = flat, 0.0
    for _ in range(_STEPS):
        floor = 1e-9 * flat
        fit = [(df / max(base + slope * x, floor) ** 2, x, variance) for x, variance, df in spots]
        before = base, slope
        base, slope = _line(fit)
        if base < 0.0:
            base, slope = 0.0, steep
        elif slope < 0.0:
            base, slope = flat, 0.0
        if abs(base - before[0]) <= 1e-12 * flat and abs(slope - before[1]) <= 1e-12 * steep:
            break
    return base, slope


def _line(fit: Sequence[tuple[float, float, float]]) -> tuple[float, float]:
    """Weighted least squares of (weight, x, y)."""
    weight = sum([w for w, _, _ in fit])
    x_mean = sum([w * x for w, x, _ in fit]) / weight
    y_mean = sum([w * y for w, _, y in fit]) / weight
    spread = sum([w * (x - x_mean) ** 2 for w, x, _ in fit])
    slope = sum([w * (x - x_mean) * (y - y_mean) for w, x, y in fit]) / spread
    return y_mean - slope * x_mean, slope
