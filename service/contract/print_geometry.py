"""Prints axles, pairs and findings: what of a vehicle goes into the gaps of a stencil."""

from collections.abc import Callable, Sequence
from functools import lru_cache
from operator import itemgetter, mul
from typing import Any, NamedTuple

import msgspec
import numpy as np
from numpy.typing import NDArray

from service.contract.answer_estimates import (
    NO_FRACTION,
    TENS,
    Form,
    Scale,
    clean,
    forms_of,
    given_length,
)
from service.contract.answer_findings import CONFORMING, SURE, VERDICTS
from service.contract.answer_findings import Form as FindingForm
from service.contract.answer_geometry import axles_of, baselines_of, pairs_of
from service.contract.estimates import Estimate
from service.contract.solution import Finding, Prediction
from service.contract.stencil import Stencil, number_gap, settled_gap, words_gap
from service.geometry.finding_words import finding_words
from service.geometry.findings import Finding as Judged
from service.geometry.pattern import Pattern
from service.geometry.solve import Solved
from service.geometry.steadiness import steady_uncertainties
from service.geometry.wording import HALF, MOST_SAID, Said, spoken

_encode = msgspec.json.Encoder().encode

Table = NDArray[np.float64]
Numbers = tuple[float, ...]

VERDICT_JSON = {name: _encode(verdict) for name, verdict in VERDICTS.items()}


FEW_SAID = 64
"""So many texts of one finding are kept, of 250 bytes or so each, for every print has its own."""


class Spelled(dict[int, bytes]):
    """The texts of a quantity by steps of its scale, as they stand in JSON."""

    def __init__(self, said: Said) -> None:
        super().__init__()
        self.said = said

    def __missing__(self, steps: int) -> bytes:
        if len(self) >= MOST_SAID:
            self.clear()
        text = self[steps] = _encode(self.said[steps])
        return text


class Surrounded(dict[int, bytes]):
    """The texts of a quantity by steps of its scale with words around them, as JSON."""

    def __init__(self, spelled: Spelled, before: bytes, after: bytes) -> None:
        super().__init__()
        self.spelled = spelled
        self.before = before[:-1]
        self.after = after[1:]

    def __missing__(self, steps: int) -> bytes:
        if len(self) >= FEW_SAID:
            self.clear()
        text = self[steps] = self.before + self.spelled[steps][1:-1] + self.after
        return text


@lru_cache(maxsize=256)
def spelled(quantity: str, unit: str, denominator: int) -> tuple[float, Spelled]:
    """As `wording.spoken`: steps to a metre or radian, and the texts by them."""
    per, said = spoken(quantity, unit, denominator)
    return per, Spelled(said)


@lru_cache(maxsize=1024)
def _given(metres: float, scale: Scale) -> bytes:
    return _encode(given_length(metres, scale))


class Figures(NamedTuple):
    """What is told of a vehicle, in the units of its answer, in the order of its quantities.

    `steps` are those of the display scale, whole ones away from zero; none where no text is wanted.
    """

    values: list[float]
    uncertainties: list[float]
    steps: list[int]


def _picker(places: Sequence[int]) -> Callable[[Sequence[float]], Numbers]:
    """Takes the numbers at some places."""
    if len(places) > 1:
        return itemgetter(*places)
    return lambda numbers: tuple(numbers[place] for place in places)


class GeometryPrint:
    """Axles, pairs and findings of a pattern with gaps, and what fills them.

    Settled are uncertainties that are the same for each vehicle of a model. `numbers` are the
    values, the other uncertainties, then the probabilities of findings; `words` the texts of
    values, the stated toe baselines, then the verdicts and the texts of findings. `places`: of the
    quantity that each finding judges.
    """

    def __init__(
        self,
        pattern: Pattern,
        scale: Scale,
        findings: list[FindingForm],
        places: Sequence[int],
    ) -> None:
        forms = forms_of(pattern, scale).estimates
        self.pattern = pattern
        self.scale = scale
        self.findings = findings
        self._places = places
        self._factors = [form[0] for form in forms]
        self._wides = [form[1] for form in forms]
        said = [spelled(q.name, scale.unit, scale.denominator) for q in pattern.quantities]
        self._steps = [per for per, _ in said]
        self._spelled = [texts for _, texts in said]
        self._baselines = list(baselines_of(pattern).values())
        # The texts of findings that surely conform, by the steps of what they judge.
        self._sure = [
            Surrounded(self._spelled[place], _encode(form[10]), _encode(form[11]))
            for place, form in zip(places, findings, strict=True)
        ]
        steady = steady_uncertainties(pattern)
        settled = [place for place, is_steady in enumerate(steady) if is_steady]
        loose = [place for place, is_steady in enumerate(steady) if not is_steady]
        self._settled, self._loose = settled, loose
        self._settled_of, self._loose_of = _picker(settled), _picker(loose)
        self.settled = len(settled)
        self.numbers = len(forms) + len(loose) + len(findings)
        self._given_from = len(forms) if scale.text else 0
        self._verdicts_from = self._given_from + len(self._baselines)
        self.words = self._verdicts_from + len(findings) * (2 if scale.text else 1)
        given = [words_gap(self._given_from + at) for at in range(len(self._baselines))]
        gaps = {place: settled_gap(at) for at, place in enumerate(settled)}
        gaps |= {place: number_gap(len(forms) + at) for at, place in enumerate(loose)}
        estimates = [self._estimate(at, form, gaps[at]) for at, form in enumerate(forms)]
        self._told: list[Any] = [*estimates, *given, None]

    def parts(self) -> dict[str, Any]:
        """The fields of axles, pairs and findings."""
        return {
            "axles": axles_of(self.pattern, self._told),
            "pairs": pairs_of(self.pattern, self._told),
            "findings": [
                self._finding(at, self._told[place]) for at, place in enumerate(self._places)
            ],
        }

    def _estimate(self, place: int, form: Form, uncertainty: Any) -> Estimate:
        text: Any = words_gap(place) if self.scale.text else ""
        return Estimate(number_gap(place), form[2], uncertainty, form[3], text)

    def _finding(self, at: int, estimate: Estimate) -> Finding:
        name, quantity, axle, front, nominal, low, high, source = self.findings[at][:8]
        verdict: Any = words_gap(self._verdicts_from + at)
        text: Any = ""
        if self.scale.text:
            text = words_gap(self._verdicts_from + len(self.findings) + at)
        probability = number_gap(self.numbers - len(self.findings) + at)
        return Finding(
            name, quantity, axle, front, estimate, nominal, low, high, verdict, probability,
            source, text,
        )  # fmt: skip

    def _figures(self, solved: Solved) -> Figures:
        """The figures of one vehicle."""
        values = solved.values
        told = [
            (v * factor * TENS + NO_FRACTION - NO_FRACTION) / TENS
            for v, factor in zip(values, self._factors, strict=True)
        ]
        steps = []
        if self.scale.text:
            steps = [
                int(v * per + (HALF if v >= 0.0 else -HALF))
                for v, per in zip(values, self._steps, strict=True)
            ]
        return Figures(told, list(map(mul, solved.uncertainties, self._wides)), steps)

    def fill(
        self, solved: Solved, found: Sequence[Judged]
    ) -> tuple[Numbers, list[float], list[bytes]]:
        """Settled and other numbers and words of one vehicle, in the order of the gaps."""
        figures = self._figures(solved)
        loose = self._loose_of(figures.uncertainties)
        numbers = [*figures.values, *loose, *[finding[2] for finding in found]]
        words = [_given(solved.numbers[at], self.scale) for at in self._baselines]
        words += [VERDICT_JSON[finding[3]] for finding in found]
        if self.scale.text:
            texts = [said[step] for said, step in zip(self._spelled, figures.steps, strict=True)]
            words = texts + words + self._finding_texts(found, figures.steps, texts)
        return self._settled_of(figures.uncertainties), numbers, words

    def columns(
        self,
        values: Table,
        uncertainties: Table,
        numbers: Sequence[Sequence[float]],
        found: Sequence[Sequence[Judged]],
    ) -> tuple[list[Numbers], list[Any], list[list[bytes]]]:
        """The same of a stack, to the last bit: settled numbers by vehicle, the others by place.

        `values` and `uncertainties` as the stack has them; `found` by row of the targets.
        """
        told = clean(values * self._factors)
        wides = uncertainties * self._wides
        chances = [[finding[2] for finding in column] for column in found]
        words = [[_given(own[at], self.scale) for own in numbers] for at in self._baselines]
        words += [[VERDICT_JSON[finding[3]] for finding in column] for column in found]
        if self.scale.text:
            halves = np.where(values >= 0.0, HALF, -HALF)
            steps = (values * self._steps + halves).astype(np.int64).T.tolist()
            texts = [
                [said[step] for step in column]
                for said, column in zip(self._spelled, steps, strict=True)
            ]
            words = texts + words + self._columns_of_texts(found, steps, texts)
        settled = list(map(tuple, wides[:, self._settled].tolist()))
        return settled, [*told.T, *wides[:, self._loose].T, *chances], words

    def _columns_of_texts(
        self,
        found: Sequence[Sequence[Judged]],
        steps: Sequence[Sequence[int]],
        texts: Sequence[Sequence[bytes]],
    ) -> list[list[bytes]]:
        return [
            [
                self._finding_text(at, *one)
                for one in zip(column, steps[place], texts[place], strict=True)
            ]
            for at, (column, place) in enumerate(zip(found, self._places, strict=True))
        ]

    def _finding_texts(
        self, found: Sequence[Judged], steps: Sequence[int], texts: Sequence[bytes]
    ) -> list[bytes]:
        return [
            self._finding_text(at, finding, steps[finding[0]], texts[finding[0]])
            for at, finding in enumerate(found)
        ]

    def _finding_text(self, at: int, finding: Judged, steps: int, text: bytes) -> bytes:
        """The text of the finding of a row; `steps` and `text` are of the value it judges."""
        _, _, chance, state = finding
        if chance > SURE and state == CONFORMING:
            return self._sure[at][steps]
        form, said = self.findings[at], msgspec.json.decode(text)
        return _encode(finding_words(form[8], said, state, form[9], chance))


class PredictionPrint:
    """Prints what a plan leads to."""

    def __init__(self, geometry: GeometryPrint) -> None:
        self._geometry = geometry
        form = Prediction(**geometry.parts())
        self._stencil = Stencil(form, geometry.settled, geometry.numbers)

    def printed(self, solved: Solved, found: Sequence[Judged]) -> bytes:
        """The JSON of a prediction."""
        return self._stencil.filled(*self._geometry.fill(solved, found))
