"""Every reading of the trade that would speak of an unknown of a vehicle, and how surely.

A reading is told by what it makes of the unknowns to first order, as the rows of the solver do.
Toe of single wheels is left out: where it can be read, the total is the better reading.
"""

import math
from collections.abc import Callable, Iterator
from itertools import pairwise
from typing import NamedTuple

from service.geometry.planning.adjusters import AXLE_ENDS
from service.geometry.solve import Solved

Slopes = tuple[tuple[int, float], ...]
"""Derivatives of what is read, by unknown."""
Sureness = Callable[[str], tuple[float, float]]
"""Standard uncertainty of one side of a reading of a kind, and of a line's aim where it has one."""

SPRING_PINS = 33.5 * 0.0254
"""Spread of a setback span where none was read: the usual spacing of frame and springs, metres
(33 1/2 in; common practice, no source)."""

TYRE = 40.2 * 0.0254
"""Baseline of a toe where the axle states none: a usual tyre's diameter, metres (from memory)."""

SWEEP_TURN = math.radians(20)
"""Turn of a caster sweep (US Navy construction mechanic training manual, caster gauge page)."""


class Equation(NamedTuple):
    """What one reading says: derivatives, and its variance."""

    slopes: Slopes
    variance: float


class Candidate(NamedTuple):
    """A reading that could be taken: kind, axle, the front axle of a span or the axle that carries
    the scale, its side, and the one or two things that it says."""

    kind: str
    axle: int
    reference: int | None
    side: str | None
    says: tuple[Equation, ...]


def candidates(solved: Solved, sureness: Sureness, about: frozenset[int]) -> Iterator[Candidate]:
    """Readings that speak of an unknown asked `about`, each axle front to rear, then each pair."""
    bench = _Bench(solved, sureness, about)
    for axle, *_ in solved.pattern.shape.axles:
        yield from bench.frame_gap(axle)
        yield from bench.sightline(axle)
        yield from bench.kingpin_span(axle)
        yield from bench.setback_span(axle)
        yield from bench.toe(axle)
        yield from bench.wheels(axle)
    for (front, *_), (rear, *_) in pairwise(solved.pattern.shape.axles):
        yield from bench.axle_span(front, rear)


class _Bench:
    def __init__(self, solved: Solved, sureness: Sureness, about: frozenset[int]) -> None:
        self.about = about
        self.pattern, self.numbers = solved.pattern, solved.numbers
        self.unknown = solved.pattern.unknown_of
        self.sureness = sureness
        self.steered = {axle[0]: axle[2] for axle in solved.pattern.shape.axles}
        self.centring = solved.numbers[0] ** 2

    def frame_gap(self, axle: int) -> Iterator[Candidate]:
        """The tape takes the place of the assumption, whose weight is taken off with it."""
        offset = self._asked("offset", axle)
        if offset is None:
            return
        weight = 2 / self.sureness("frame_gap")[0] ** 2
        if any(assumed.unknown == offset for assumed in self.pattern.assumed):
            weight -= 1 / self.centring
        if weight > 0:
            yield Candidate(
                "frame_gap", axle, None, None, (Equation(((offset, 1.0),), 1 / weight),)
            )

    def sightline(self, axle: int) -> Iterator[Candidate]:
        """Its difference tells aim and offset; its sum the toe, where both widths are told."""
        pattern, slope = self.pattern, self.unknown.get(("slope", axle))
        first = pattern.shape.axles[0]
        reference = None if pattern.shape.towed else first[0]
        if slope is None or axle == reference or not self._speaks_of(axle, reference):
            return
        reach = self.numbers[pattern.distance_of[axle]]
        u, rehang = self.sureness("sightline")
        variance = (u * u + (reach * rehang) ** 2) / 2
        slopes = [(slope, reach)]
        assumed = self._offset(axle, 1.0, slopes)
        if reference is not None:
            assumed += self._offset(reference, -1.0, slopes)
        says = [Equation(tuple(slopes), variance + assumed)]
        toe = self.unknown.get(("toe", axle))
        widths = {shape[0]: shape[3] for shape in pattern.shape.axles}
        if toe is not None and widths[axle] and (reference is None or widths[reference]):
            tapes = 1 if reference is None else 2
            tape = tapes * self.numbers[1] ** 2 / 4
            says.append(Equation(((toe, -reach / 2),), variance + tape))
        yield Candidate("sightline", axle, reference, None, tuple(says))

    def kingpin_span(self, axle: int) -> Iterator[Candidate]:
        """It takes an offset for an aim, a little of it."""
        slope = self.unknown.get(("slope", axle))
        if slope is None or not self.pattern.shape.towed or self.steered[axle]:
            return
        if not self._speaks_of(axle, None):
            return
        spread, u = self._spread("kingpin_span", axle, AXLE_ENDS), self.sureness("kingpin_span")[0]
        behind = self.numbers[self.pattern.distance_of[axle]]
        over = math.hypot(behind, spread / 2)
        slopes = [(slope, spread * behind / over)]
        assumed = self._offset(axle, spread / over, slopes)
        says = Equation(tuple(slopes), 2 * u * u + assumed)
        yield Candidate("kingpin_span", axle, None, None, (says,))

    def setback_span(self, axle: int) -> Iterator[Candidate]:
        """The stand of a beam by itself."""
        beam = self._beam(axle)
        if beam is not None and beam in self.about:
            spread = self._spread("setback_span", axle, SPRING_PINS)
            u = self.sureness("setback_span")[0] / spread
            says = Equation(((beam, 1.0),), 2 * u * u)
            yield Candidate("setback_span", axle, None, None, (says,))

    def axle_span(self, front: int, rear: int) -> Iterator[Candidate]:
        """How two axles behind each other stand to each other."""
        ahead, behind = self._beam(front), self._beam(rear)
        if ahead is None or behind is None or self.about.isdisjoint((ahead, behind)):
            return
        spread, u = self._spread("axle_span", rear, AXLE_ENDS), self.sureness("axle_span")[0]
        says = Equation(((ahead, -spread), (behind, spread)), 2 * u * u)
        yield Candidate("axle_span", rear, front, None, (says,))

    def toe(self, axle: int) -> Iterator[Candidate]:
        """Total toe, by a scale or by two widths."""
        toe = self._asked("toe", axle)
        if toe is None:
            return
        over = self._toe_baseline(axle)
        for kind, sides in (("toe_scale", 1), ("toe_width", 2)):
            u = self.sureness(kind)[0] / over
            yield Candidate(kind, axle, None, None, (Equation(((toe, 1.0),), sides * u * u),))

    def wheels(self, axle: int) -> Iterator[Candidate]:
        """Camber and caster of each side, and both wedges at once."""
        for side in ("left", "right"):
            for angle in ("camber", "caster"):
                unknown = self._asked(f"{angle}_{side}", axle)
                if unknown is not None:
                    yield self._direct("wheel_angle", axle, side, unknown, 1.0)
                    if angle == "caster":
                        share = math.sqrt(2) / (2 * math.sin(SWEEP_TURN))
                        yield self._direct("caster_sweep", axle, side, unknown, share)
        wedges = [self.unknown.get((f"wedge_{side}", axle)) for side in ("left", "right")]
        if any(wedge in self.about for wedge in wedges):
            variance = self.sureness("wedge")[0] ** 2
            says = tuple([Equation(((w, 1.0),), variance) for w in wedges if w is not None])
            yield Candidate("wedge", axle, None, None, says)

    def _speaks_of(self, axle: int, reference: int | None) -> bool:
        """Whether a line along an axle to a scale at another says anything that is asked about."""
        told = [self._asked(name, axle) for name in ("slope", "offset", "toe")]
        if reference is not None:
            told.append(self._asked("offset", reference))
        return any(place is not None for place in told)

    def _asked(self, name: str, axle: int) -> int | None:
        """An unknown of an axle, None where it is not asked about."""
        place = self.unknown.get((name, axle))
        return None if place is None or place not in self.about else place

    def _direct(self, kind: str, axle: int, side: str, unknown: int, share: float) -> Candidate:
        u = share * self.sureness(kind)[0]
        return Candidate(kind, axle, None, side, (Equation(((unknown, 1.0),), u * u),))

    def _offset(self, axle: int, slope: float, slopes: list[tuple[int, float]]) -> float:
        """Add the offset of an axle to what is read, or the variance of taking it as centred."""
        offset = self.unknown.get(("offset", axle))
        if offset is None:
            assumed: float = slope * slope * self.centring
            return assumed
        slopes.append((offset, slope))
        return 0.0

    def _beam(self, axle: int) -> int | None:
        return self.unknown.get(("beam" if self.steered[axle] else "slope", axle))

    def _spread(self, kind: str, axle: int, usual: float) -> float:
        place = self.pattern.spread_of.get((kind, axle))
        spread: float = usual if place is None else self.numbers[place]
        return spread

    def _toe_baseline(self, axle: int) -> float:
        for quantity in self.pattern.quantities:
            if quantity.axle == axle and quantity.baseline is not None:
                baseline: float = self.numbers[quantity.baseline]
                return baseline
        return TYRE
