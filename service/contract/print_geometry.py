"""Prints axles, pairs and findings: what of a vehicle goes into the gaps of a stencil."""

from collections.abc import Sequence
from functools import lru_cache
from operator import mul
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
from service.contract.finite import require_finite_numbers
from service.contract.print_texts import Sentences, spelled, steps_of, steps_of_all
from service.contract.sheet import picker
from service.contract.solution import Finding
from service.contract.stencil import number_gap, settled_gap, words_gap
from service.geometry.findings import Finding as Judged
from service.geometry.judging import Column
from service.geometry.pattern import Pattern
from service.geometry.solve import Solved
from service.geometry.steadiness import steady_uncertainties
from service.geometry.wording import HALF

_encode = msgspec.json.Encoder().encode

Table = NDArray[np.float64]
Numbers = tuple[float, ...]

VERDICT_JSON = {name: _encode(verdict) for name, verdict in VERDICTS.items()}


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


class Places(NamedTuple):
    """For each quantity the place of its number and of its text, if any; for each finding those of
    its probability, its verdict and its text, if any."""

    numbers: Sequence[int]
    texts: Sequence[int]
    findings: list[list[int]]


class GeometryPrint:
    """Axles, pairs and findings of a pattern with gaps, and what fills them.

    Settled are uncertainties that are the same for each vehicle of a model. `numbers` are the
    values, then the other uncertainties; `words` the texts of values, the stated toe baselines,
    then the probabilities, the verdicts and the texts of findings. `places`: of the quantity that
    each finding judges.
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
        self._sentences = [
            Sentences(form, self._spelled[place])
            for place, form in zip(places, findings, strict=True)
        ]
        steady = steady_uncertainties(pattern)
        settled = [place for place, is_steady in enumerate(steady) if is_steady]
        loose = [place for place, is_steady in enumerate(steady) if not is_steady]
        self._settled, self._loose = settled, loose
        self._settled_of, self._loose_of = picker(settled), picker(loose)
        self.settled = len(settled)
        self.numbers = len(forms) + len(loose)
        self._given_from = len(forms) if scale.text else 0
        self._chances_from = self._given_from + len(self._baselines)
        self.words = self._chances_from + len(findings) * (3 if scale.text else 2)
        given = [words_gap(self._given_from + at) for at in range(len(self._baselines))]
        gaps = {place: settled_gap(at) for at, place in enumerate(settled)}
        gaps |= {place: number_gap(len(forms) + at) for at, place in enumerate(loose)}
        estimates = [self._estimate(at, form, gaps[at]) for at, form in enumerate(forms)]
        self._told: list[Any] = [*estimates, *given, None]

    @property
    def places(self) -> Places:
        """Where a vehicle's own stands among `numbers` and `words`."""
        first, count = self._chances_from, len(self.findings)
        kinds = 3 if self.scale.text else 2
        values = range(len(self._factors))
        return Places(
            values,
            values if self.scale.text else range(0),
            [[first + at + kind * count for kind in range(kinds)] for at in range(count)],
        )

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
        place, count = self._chances_from + at, len(self.findings)
        probability, verdict = words_gap(place), words_gap(place + count)
        text: Any = words_gap(place + 2 * count) if self.scale.text else ""
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
            # As `steps_of` has it, without a call for each.
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
        numbers = [*figures.values, *loose]
        words = [_given(solved.numbers[at], self.scale) for at in self._baselines]
        words += [_encode(finding[2]) for finding in found]
        words += [VERDICT_JSON[finding[3]] for finding in found]
        if self.scale.text:
            texts = [said[step] for said, step in zip(self._spelled, figures.steps, strict=True)]
            words = texts + words
            words += [
                sentences.of(finding, figures.steps[finding[0]])
                for sentences, finding in zip(self._sentences, found, strict=True)
            ]
        return self._settled_of(figures.uncertainties), numbers, words

    def value_pieces(
        self, places: Sequence[int], values: Sequence[float]
    ) -> tuple[list[bytes], list[bytes]]:
        """The numbers and the texts, if wanted, of the quantities at some places, by all values.

        Raises `NotFiniteError` rather than write null for NaN or infinity.
        """
        # As `clean` and `steps_of` have it, without a call for each.
        told = [
            (values[at] * self._factors[at] * TENS + NO_FRACTION - NO_FRACTION) / TENS
            for at in places
        ]
        require_finite_numbers(told)
        texts = []
        if self.scale.text:
            for at in places:
                value = values[at]
                steps = int(value * self._steps[at] + (HALF if value >= 0.0 else -HALF))
                texts.append(self._spelled[at][steps])
        return _encode(told)[1:-1].split(b",") if told else [], texts

    def finding_pieces(self, at: int, finding: Judged, value: float) -> list[bytes]:
        """Probability, verdict and text, if wanted, of the finding of a row on a value."""
        pieces = [_encode(finding[2]), VERDICT_JSON[finding[3]]]
        if self.scale.text:
            steps = steps_of(value, self._steps[finding[0]])
            pieces.append(self._sentences[at].of(finding, steps))
        return pieces

    def columns(
        self,
        values: Table,
        uncertainties: Table,
        numbers: Sequence[Sequence[float]],
        found: Sequence[Column],
    ) -> tuple[Table, list[Any], list[list[bytes]]]:
        """What `fill` gives, of a stack: settled numbers by vehicle, all else by place.

        `values` and `uncertainties` as the stack has them; `found` by row of the targets.
        """
        told = clean(values * self._factors)
        wides = uncertainties * self._wides
        count = len(values)
        words = [[_given(own[at], self.scale) for own in numbers] for at in self._baselines]
        words += [_chances(column, count) for column in found]
        words += [_verdicts(column, count) for column in found]
        if self.scale.text:
            steps = steps_of_all(values, self._steps).T.tolist()
            texts = [
                list(map(said.__getitem__, column))
                for said, column in zip(self._spelled, steps, strict=True)
            ]
            words = texts + words
            words += [
                _said(sentences, column, steps[place])
                for sentences, column, place in zip(
                    self._sentences, found, self._places, strict=True
                )
            ]
        return wides[:, self._settled], [*told.T, *wides[:, self._loose].T], words


def _chances(column: Column, count: int) -> list[bytes]:
    """The probability of the finding of each of so many vehicles."""
    chances = [_encode(column.sure[2])] * count
    known: dict[float, bytes] = {}
    for vehicle, (_, _, chance, _) in column.others.items():
        text = known.get(chance)
        if text is None:
            text = known[chance] = _encode(chance)
        chances[vehicle] = text
    return chances


def _verdicts(column: Column, count: int) -> list[bytes]:
    """The same of its verdict."""
    verdicts = [VERDICT_JSON[column.sure[3]]] * count
    if not column.conform:
        for vehicle, finding in column.others.items():
            verdicts[vehicle] = VERDICT_JSON[finding[3]]
    return verdicts


def _said(sentences: Sentences, column: Column, steps: Sequence[int]) -> list[bytes]:
    """The texts of the findings of all vehicles, whose estimates have so many steps."""
    texts = list(map(sentences.sure.__getitem__, steps))
    for vehicle, finding in column.others.items():
        if finding[2] <= SURE or finding[3] != CONFORMING:
            texts[vehicle] = sentences.of(finding, steps[vehicle])
    return texts
