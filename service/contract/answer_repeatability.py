"""Writes what repeated readings are good for, and the instrument to paste into a solution."""

from math import degrees, floor, log10

from service.contract.answer import ENGINE
from service.contract.answer_estimates import METRE, UNIT, clean
from service.contract.answer_figures import Figures
from service.contract.figures import Figure, FigureUnit
from service.contract.intake_repeatability import Pool
from service.contract.intake_uncertainty import ANGLE_KINDS, FINEST_ANGLE, FINEST_LENGTH
from service.contract.readings import Instrument, ReadingKind
from service.contract.repeatabilities import (
    AimParts,
    KindRepeatability,
    RepeatabilityAnswer,
    RepeatabilityRequest,
)
from service.contract.solution import Caution
from service.contract.vehicle import LengthUnit
from service.geometry.repeatability import AimSplit, Repeatability, repeatability

FEW = 10
"""Degrees of freedom below which k = 2 covers clearly less than 95 %: k is 2.23 at 10."""

WILDEST_REHANG = 0.1
"""Radians; no solution takes a re-hang beyond."""

WILDEST_LENGTH, WILDEST_ANGLE = 1.0, 0.5
"""A metre and half a radian: repetitions that differ by more are not of one thing."""

_DECIMALS = {LengthUnit.INCH: 4, LengthUnit.MILLIMETRE: 3, LengthUnit.CENTIMETRE: 4}
_ANGLE_DECIMALS = 4


def repeatability_answer(request: RepeatabilityRequest, pools: list[Pool]) -> RepeatabilityAnswer:
    """Evaluate the pools of a request that was read."""
    return RepeatabilityAnswer(
        engine=ENGINE,
        length_unit=request.length_unit,
        kinds=[_Kind(request, pool).written() for pool in pools],
    )


class _Kind:
    """One pool on its way to its answer."""

    def __init__(self, request: RepeatabilityRequest, pool: Pool) -> None:
        self.pool = pool
        self.figures = Figures(request.text)
        self.angle = pool.kind.value in ANGLE_KINDS
        self.unit = request.length_unit
        self.seen: Repeatability = repeatability(pool.series, pool.resolution)
        self.finest = FINEST_ANGLE if self.angle else FINEST_LENGTH
        self.wild = self.seen.scatter > (WILDEST_ANGLE if self.angle else WILDEST_LENGTH)
        self.split = self._usable(self.seen.split)
        self.u = max(self.seen.scatter, self.seen.floor)

    def written(self) -> KindRepeatability:
        seen, precision = self.seen, self.seen.precision
        instrument = self._instrument()
        return KindRepeatability(
            kind=self.pool.kind,
            places=seen.places,
            operators=seen.operators,
            readings=seen.readings,
            repeatability=self._figure(precision.repeatability),
            repeatability_degrees_of_freedom=precision.df_repeatability,
            between_operators=self._optional(precision.between),
            reproducibility=self._optional(precision.reproducibility),
            resolution_floor=self._figure(seen.floor) if seen.floor else None,
            uncertainty=self._figure(self.u),
            degrees_of_freedom=clean(seen.degrees_of_freedom),
            coverage_factor=clean(seen.coverage_factor),
            expanded_uncertainty=self._figure(seen.coverage_factor * self.u),
            aim=None if self.split is None else self._aim(self.split),
            instrument=instrument,
            cautions=self._cautions(instrument),
            text=self._text(),
        )

    def _usable(self, split: AimSplit | None) -> AimSplit | None:
        """None where there is nothing to split, or where no solution would take the parts."""
        if split is None or self.wild or self.seen.scatter < self.finest:
            return None
        return split if split.rehang < WILDEST_REHANG else None

    def _instrument(self) -> Instrument | None:
        """In the shape that a solution takes; the aim counts once, in `rehang` or not at all."""
        if self.split is not None:
            reading = max(self.split.reading, self.seen.floor)
            return Instrument(
                kind=self.pool.kind,
                name=self.pool.instrument,
                uncertainty=self._size(reading) if reading > self.finest else None,
                rehang=_angle_text(self.split.rehang),
            )
        if self.u < self.finest or self.wild:
            return None
        return Instrument(
            kind=self.pool.kind,
            name=self.pool.instrument,
            uncertainty=self._size(self.u),
            rehang="0" if self.pool.kind is ReadingKind.SIGHTLINE else None,
        )

    def _cautions(self, instrument: Instrument | None) -> list[Caution]:
        found = []
        seen = self.seen
        if self.wild:
            found.append(("wild-scatter", WILD_SCATTER))
        elif instrument is None:
            found.append(("no-scatter", NO_SCATTER))
        elif instrument.uncertainty is None:
            found.append(("reading-not-seen", READING_NOT_SEEN))
        if 0.0 < seen.floor > seen.scatter:
            found.append(("resolution-holds", RESOLUTION_HOLDS))
        if seen.precision.reproducibility is None:
            found.append(("one-operator", ONE_OPERATOR))
        if self.pool.kind is ReadingKind.SIGHTLINE and self.split is None:
            found.append(("aim-not-told-apart", AIM_NOT_TOLD_APART))
        if seen.degrees_of_freedom < FEW:
            few = f"{seen.degrees_of_freedom:.3g} degrees of freedom"
            found.append(("few-repetitions", FEW_REPETITIONS.format(few, seen.coverage_factor)))
        return [Caution(code=code, pointer=None, text=text) for code, text in found]

    def _text(self) -> str:
        if not self.figures.text:
            return ""
        name = self.pool.kind.value.replace("_", " ")
        return (
            f"One side of one {name} reading has the standard uncertainty "
            f"{self._figure(self.u).text}; 95 % lie within "
            f"{self._figure(self.seen.coverage_factor * self.u).text}."
        )

    def _aim(self, split: AimSplit) -> AimParts:
        rehang = degrees(split.rehang)
        return AimParts(
            reading=self._figure(split.reading),
            rehang=self.figures.plain(rehang, FigureUnit.DEGREE, _ANGLE_DECIMALS),
        )

    def _figure(self, value: float) -> Figure:
        if self.angle:
            return self.figures.plain(degrees(value), FigureUnit.DEGREE, _ANGLE_DECIMALS)
        unit = FigureUnit(UNIT[self.unit].value)
        return self.figures.plain(value * METRE[self.unit], unit, _DECIMALS[self.unit])

    def _optional(self, value: float | None) -> Figure | None:
        return None if value is None else self._figure(value)

    def _size(self, value: float) -> str:
        if self.angle:
            return _angle_text(value)
        return f"{_three_digits(value * METRE[self.unit])} {self.unit.value}"


def _angle_text(radians: float) -> str:
    return f"{_three_digits(degrees(radians))}°"


def _three_digits(value: float) -> str:
    """A positive number in decimals, to three digits that count; never in exponents."""
    if value < 1e-9:
        return "0"
    return f"{value:.{max(0, 2 - floor(log10(value)))}f}"


NO_SCATTER = (
    "Every repetition read the same and no resolution was given, so nothing can be said. Give the "
    "smallest step of the scale in `resolution`."
)
WILD_SCATTER = (
    "Repetitions at one place lie too far apart to be of one thing. Look for a slip of the unit, "
    "the side, the axle or the vehicle's name."
)
READING_NOT_SEEN = (
    "All scatter grows with distance, so that the reading of the scale shows none of its own: the "
    "default of the kind holds for it, unless `resolution` is given."
)
RESOLUTION_HOLDS = (
    "Repetition scatters less than the scale's step allows to see; the uncertainty of the step is "
    "taken."
)
ONE_OPERATOR = (
    "No place was read by two operators, so the figure holds for one operator's repetition only. "
    "Let another read the same places."
)
AIM_NOT_TOLD_APART = (
    "The line's aim is not told apart from the reading of the scale: all scatter stands in "
    "`uncertainty`, with no re-hang on top, and holds for distances like these. Repeat at two "
    "distances, one at least 1.5 times the other, and give `distance`."
)
FEW_REPETITIONS = (
    "These are {0}: for 95 % expand by k = {1:.2f}; a solution expands by 2. Repeat more often."
)
