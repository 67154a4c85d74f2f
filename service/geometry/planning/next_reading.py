"""Which one reading more would settle the undecided findings best.

Adding a reading with derivatives h and variance r takes (g C h)^2 / (h C h + r) off the variance of
a quantity with derivatives g, C being the covariance of the unknowns (the update of sequential
least squares). The reading that takes off the largest share, summed over the findings, is proposed.
"""

import math
from collections.abc import Callable, Iterator, Sequence
from typing import NamedTuple

from service.geometry.findings import Finding
from service.geometry.planning.adjusters import AXLE_ENDS
from service.geometry.solve import Solved
from service.geometry.uncertainty import REHANG

UNDETERMINED = "undetermined"
WORTHWHILE = 0.02
"""A reading that takes less than this share off the variance is not worth the walk."""


class Candidate(NamedTuple):
    """A reading that could be taken: kind, axle, the front axle of a pair or the scale's axle,
    its side; derivatives by unknown, and variance."""

    kind: str
    axle: int
    reference: int | None
    side: str | None
    slopes: tuple[tuple[int, float], ...]
    variance: float


class Advice(NamedTuple):
    """The reading to take: by finding, the standard uncertainty it would leave."""

    candidate: Candidate
    findings: dict[int, float]


Sureness = Callable[[str], float]
"""Standard uncertainty of one side of a reading of a kind."""


def next_reading(solved: Solved, findings: Sequence[Finding], sureness: Sureness) -> Advice | None:
    """The reading that would settle the undecided findings best; None if none is undecided."""
    undecided = {
        number: finding
        for number, finding in enumerate(findings)
        if finding.verdict == UNDETERMINED
    }
    if not undecided:
        return None
    spreads = {number: _spread(solved, finding.quantity) for number, finding in undecided.items()}
    variances = {
        number: solved.uncertainties[finding.quantity] ** 2 for number, finding in undecided.items()
    }
    best: tuple[float, Advice] | None = None
    for candidate in _candidates(solved, sureness):
        lost = _variances_lost(solved, candidate, spreads)
        share = sum(lost[number] / variances[number] for number in undecided)
        if share > WORTHWHILE and (best is None or share > best[0] * (1 + 1e-9)):
            left = {n: math.sqrt(max(variances[n] - lost[n], 0.0)) for n in undecided if lost[n]}
            best = share, Advice(candidate, left)
    return None if best is None else best[1]


def _spread(solved: Solved, quantity: int) -> dict[int, float]:
    """C g: covariance of a quantity with every unknown of its groups."""
    told = solved.pattern.quantities[quantity]
    _, slopes = told.tell(solved.numbers, solved.unknowns, math)
    return _times_covariance(solved, list(zip(told.unknowns, slopes, strict=True)))


def _times_covariance(solved: Solved, gradient: Sequence[tuple[int, float]]) -> dict[int, float]:
    pattern = solved.pattern
    rights: dict[int, list[float]] = {}
    for unknown, slope in gradient:
        number = pattern.group_of.get(unknown)
        if number is not None:
            group = pattern.groups[number]
            right = rights.setdefault(number, [0.0] * group.size)
            right[group.place[unknown]] += slope
    spread: dict[int, float] = {}
    for number, right in rights.items():
        group = pattern.groups[number]
        solution = group.solve(solved.factors[number], right)
        spread.update(zip(group.order, solution, strict=True))
    return spread


def _variances_lost(
    solved: Solved, candidate: Candidate, spreads: dict[int, dict[int, float]]
) -> dict[int, float]:
    own = _times_covariance(solved, candidate.slopes)
    total = candidate.variance + sum(own.get(u, 0.0) * slope for u, slope in candidate.slopes)
    lost = {}
    for number, spread in spreads.items():
        shared = sum(spread.get(u, 0.0) * slope for u, slope in candidate.slopes)
        lost[number] = shared * shared / total
    return lost


def _candidates(solved: Solved, sureness: Sureness) -> Iterator[Candidate]:
    """Every reading of the trade that speaks of an unknown there is, each axle front to rear."""
    pattern = solved.pattern
    for axle, _, steered, *_ in pattern.shape.axles:
        yield from _tapes(solved, axle, sureness)
        yield from _sightlines(solved, axle, sureness)
        for name, kind, side in _DIRECT:
            unknown = pattern.unknown_of.get((name, axle))
            if unknown is not None:
                u = sureness(kind)
                yield Candidate(kind, axle, None, side, ((unknown, 1.0),), u * u)
        beam = pattern.unknown_of.get(("beam" if steered else "slope", axle))
        if beam is not None:
            u = sureness("setback_span") / _spread_of(solved, "setback_span", axle)
            yield Candidate("setback_span", axle, None, None, ((beam, 1.0),), 2 * u * u)
    yield from _spans(solved, sureness)


_DIRECT = (
    ("camber_left", "wheel_angle", "left"),
    ("camber_right", "wheel_angle", "right"),
    ("caster_left", "wheel_angle", "left"),
    ("caster_right", "wheel_angle", "right"),
    ("wedge_left", "wedge", None),
    ("wedge_right", "wedge", None),
)


def _spread_of(solved: Solved, kind: str, axle: int) -> float:
    place = solved.pattern.spread_of.get((kind, axle))
    spread: float = AXLE_ENDS if place is None else solved.numbers[place]
    return spread


def _tapes(solved: Solved, axle: int, sureness: Sureness) -> Iterator[Candidate]:
    pattern = solved.pattern
    offset = pattern.unknown_of.get(("offset", axle))
    if offset is not None:
        u = sureness("frame_gap")
        variance = u * u / 2
        if any(assumed.unknown == offset for assumed in pattern.assumed):
            # The tape takes the place of the assumption, whose weight is taken off with it.
            assumption = solved.numbers[0] ** 2
            variance = 1 / max(1 / variance - 1 / assumption, 1e-12 / variance)
        yield Candidate("frame_gap", axle, None, None, ((offset, 1.0),), variance)
    toe = pattern.unknown_of.get(("toe", axle))
    if toe is not None:
        u = sureness("toe_scale")
        yield Candidate("toe_scale", axle, None, None, ((toe, 1.0),), u * u)


def _sightlines(solved: Solved, axle: int, sureness: Sureness) -> Iterator[Candidate]:
    pattern, numbers = solved.pattern, solved.numbers
    slope = pattern.unknown_of.get(("slope", axle))
    offset = pattern.unknown_of.get(("offset", axle))
    reference = 0 if pattern.shape.towed else pattern.shape.axles[0][0]
    if slope is None or offset is None or axle == reference:
        return
    reach = numbers[pattern.distance_of[axle]]
    slopes = [(slope, reach), (offset, 1.0)]
    of_reference = pattern.unknown_of.get(("offset", reference))
    if of_reference is not None:
        slopes.append((of_reference, -1.0))
        reach -= numbers[pattern.distance_of[reference]]
    u, turn = sureness("sightline"), reach * REHANG
    variance = (u * u + turn * turn) / 2
    yield Candidate("sightline", axle, reference or None, None, tuple(slopes), variance)


def _spans(solved: Solved, sureness: Sureness) -> Iterator[Candidate]:
    pattern = solved.pattern
    for front, rear in pattern.pairs:
        slopes = [pattern.unknown_of.get(("slope", axle)) for axle in (front, rear)]
        if slopes[0] is not None and slopes[1] is not None:
            spread, u = _spread_of(solved, "axle_span", rear), sureness("axle_span")
            both = ((slopes[0], -spread), (slopes[1], spread))
            yield Candidate("axle_span", rear, front, None, both, 2 * u * u)
    if pattern.shape.towed:
        for axle, *_ in pattern.shape.axles:
            slope = pattern.unknown_of.get(("slope", axle))
            offset = pattern.unknown_of.get(("offset", axle))
            if slope is not None and offset is not None:
                spread, u = _spread_of(solved, "kingpin_span", axle), sureness("kingpin_span")
                behind = solved.numbers[pattern.distance_of[axle]]
                over = math.hypot(behind, spread / 2)
                told = ((slope, spread * behind / over), (offset, spread / over))
                yield Candidate("kingpin_span", axle, None, None, told, 2 * u * u)
