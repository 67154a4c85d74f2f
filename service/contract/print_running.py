"""Prints how a vehicle runs straight: what goes into the gaps of a stencil."""

from collections.abc import Iterable, Sequence
from functools import lru_cache
from typing import Any

import msgspec
import numpy as np

from service.contract.answer_estimates import COVERAGE, RADIAN, Scale, clean
from service.contract.answer_running import FEET_PER_MILE, METRES_PER_KILOMETRE, held, side_of
from service.contract.estimates import Basis, Estimate, EstimateUnit
from service.contract.print_geometry import GeometryPrint, Table
from service.contract.print_texts import spelled, steps_of, steps_of_all
from service.contract.running import AxleRun, HoldSide, Running
from service.contract.stencil import number_gap, words_gap
from service.geometry.course import Run
from service.geometry.pattern import Pattern
from service.geometry.stack import HEADING

_encode = msgspec.json.Encoder().encode

WIDE = COVERAGE * RADIAN


@lru_cache(maxsize=1024)
def _held(side: HoldSide, text: bytes, by_wheel: bool) -> bytes:
    return _encode(held(side, msgspec.json.decode(text, type=str), by_wheel))


class RunningPrint:
    """Straight running of a pattern with gaps, and what fills them.

    `numbers` are the angles, their uncertainties, then three for each axle; `words` the texts of
    the angles and, of what is steered, the hold. Both come after those of `geometry`.
    """

    def __init__(
        self, pattern: Pattern, scale: Scale, with_wheel: bool, geometry: GeometryPrint
    ) -> None:
        numbers, words = geometry.numbers, geometry.words
        axles = [axle[0] for axle in pattern.shape.axles]
        self.scale = scale
        self.steers = not pattern.shape.towed
        angles = 1 if not self.steers else 3 if with_wheel else 2
        self.numbers = 2 * angles + 3 * len(axles)
        self._texts = angles if scale.text else 0
        self.words = self._texts + (1 if self.steers else 0)
        self._per, self._spelled = spelled("thrust", scale.unit, scale.denominator)
        basis = Basis.PARTLY_ASSUMED if pattern.assumed else Basis.MEASURED
        told = [
            Estimate(
                number_gap(numbers + at),
                EstimateUnit.DEGREE,
                number_gap(numbers + angles + at),
                basis,
                words_gap(words + at) if scale.text else "",
            )
            for at in range(angles)
        ]
        first = numbers + 2 * angles
        hold: Any = words_gap(words + self._texts) if self.steers else None
        self.form = Running(
            crab=told[0],
            steer=told[1] if angles > 1 else None,
            steering_wheel=told[2] if angles > 2 else None,
            hold=hold,
            axles=[
                AxleRun(number, *(number_gap(first + 3 * at + field) for field in range(3)))
                for at, number in enumerate(axles)
            ],
        )

    def fill(self, run: Run, ratio: float | None) -> tuple[list[float], list[bytes]]:
        """Numbers and words of one vehicle, in the order of the gaps."""
        _, *heading, slips, sines = run
        angles, numbers = self._numbers(heading, ratio, slips, sines)
        words = []
        if self.scale.text:
            words = [self._spelled[steps_of(angle, self._per)] for angle in angles]
        if self.steers:
            text = words[-1] if words else b'""'
            by_wheel = ratio is not None
            words.append(_held(side_of(numbers[len(angles) - 1], by_wheel), text, by_wheel))
        return numbers, words

    def columns(
        self, runs: Table, ratios: Sequence[float | None]
    ) -> tuple[list[Any], list[list[bytes]]]:
        """The same of a stack by place; `runs` as the stack has them, each with a course."""
        axles = (runs.shape[1] - HEADING) // 2
        _, *heading = runs[:, :HEADING].T
        slips, sines = runs[:, HEADING : HEADING + axles].T, runs[:, HEADING + axles :].T
        by_wheel = ratios[0] is not None
        ratio = np.array(ratios) if by_wheel else None
        angles, numbers = self._numbers(heading, ratio, slips, sines)
        words = []
        if self.scale.text:
            steps = steps_of_all(np.array(angles), self._per).tolist()
            words = [list(map(self._spelled.__getitem__, row)) for row in steps]
        if self.steers:
            texts = words[-1] if words else [b'""'] * len(runs)
            lasts = numbers[len(angles) - 1].tolist()
            words.append(
                [
                    _held(side_of(last, by_wheel), text, by_wheel)
                    for last, text in zip(lasts, texts, strict=True)
                ]
            )
        return numbers, words

    def _numbers(
        self, heading: Iterable[Any], ratio: Any, slips: Iterable[Any], sines: Iterable[Any]
    ) -> tuple[list[Any], list[Any]]:
        """Angles in radians, and all numbers in the order of the gaps, of a vehicle or a stack."""
        crab, crab_u, turn, turn_u = heading
        angles, wides = [crab], [WIDE * crab_u]
        if self.steers:
            angles.append(turn)
            wides.append(WIDE * turn_u)
            if ratio is not None:
                angles.append(turn * ratio)
                wides.append(WIDE * (turn_u * ratio))
        numbers = [*[clean(angle * RADIAN) for angle in angles], *wides]
        for slip, sine in zip(slips, sines, strict=True):
            numbers += (slip * RADIAN, sine * FEET_PER_MILE, sine * METRES_PER_KILOMETRE)
        return angles, numbers
