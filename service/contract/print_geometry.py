"""Prints axles, pairs and findings: what of a vehicle goes into the gaps of a stencil."""

from collections.abc import Sequence
from functools import lru_cache
from operator import mul
from typing import Any

import msgspec

from service.contract.answer_estimates import (
    NO_FRACTION,
    TENS,
    Form,
    Scale,
    forms_of,
    given_length,
)
from service.contract.answer_findings import CONFORMING, SURE, VERDICTS
from service.contract.answer_findings import Form as FindingForm
from service.contract.answer_geometry import axles_of, baselines_of, pairs_of
from service.contract.estimates import Estimate
from service.contract.solution import Finding, Prediction
from service.contract.stencil import Stencil, number_gap, words_gap
from service.geometry.finding_words import finding_words
from service.geometry.findings import Finding as Judged
from service.geometry.pattern import Pattern
from service.geometry.solve import Solved
from service.geometry.wording import HALF, MOST_SAID, Said, spoken

_encode = msgspec.json.Encoder().encode

VERDICT_JSON = {name: _encode(verdict) for name, verdict in VERDICTS.items()}


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


@lru_cache(maxsize=256)
def spelled(quantity: str, unit: str, denominator: int) -> tuple[float, Spelled]:
    """As `wording.spoken`: steps to a metre or radian, and the texts by them."""
    per, said = spoken(quantity, unit, denominator)
    return per, Spelled(said)


@lru_cache(maxsize=1024)
def _given(metres: float, scale: Scale) -> bytes:
    return _encode(given_length(metres, scale))


class GeometryPrint:
    """Axles, pairs and findings of a pattern with gaps, and what fills them.

    `numbers` are values, their uncertainties, then the probabilities of findings; `words` the texts
    of values, the stated toe baselines, then verdicts and the texts of findings.
    """

    def __init__(self, pattern: Pattern, scale: Scale, findings: list[FindingForm]) -> None:
        forms = forms_of(pattern, scale).estimates
        self.pattern = pattern
        self.scale = scale
        self.findings = findings
        self._factors = [form[0] for form in forms]
        self._wides = [form[1] for form in forms]
        self._spelled = [
            spelled(quantity.name, scale.unit, scale.denominator) for quantity in pattern.quantities
        ]
        self._baselines = list(baselines_of(pattern).values())
        # What stands around the text of a finding's estimate where it surely conforms, in JSON.
        self._around = [(_encode(form[10])[:-1], _encode(form[11])[1:]) for form in findings]
        quantities = len(forms)
        self.numbers = 2 * quantities + len(findings)
        self._texts = quantities if scale.text else 0
        self._given_from = self._texts
        self._verdicts_from = self._texts + len(self._baselines)
        self.words = self._verdicts_from + len(findings) * (2 if scale.text else 1)
        estimates = [self._estimate(place, form) for place, form in enumerate(forms)]
        self.told: list[Any] = [
            *estimates,
            *(words_gap(self._given_from + at) for at in range(len(self._baselines))),
            None,
        ]

    def parts(self, places: Sequence[int]) -> dict[str, Any]:
        """The fields of axles, pairs and findings; `places` of what each finding judges."""
        return {
            "axles": axles_of(self.pattern, self.told),
            "pairs": pairs_of(self.pattern, self.told),
            "findings": [self._finding(at, self.told[place]) for at, place in enumerate(places)],
        }

    def _estimate(self, place: int, form: Form) -> Estimate:
        text: Any = words_gap(place) if self.scale.text else ""
        return Estimate(
            number_gap(place), form[2], number_gap(len(self._factors) + place), form[3], text
        )

    def _finding(self, at: int, estimate: Estimate) -> Finding:
        name, quantity, axle, front, nominal, low, high, source = self.findings[at][:8]
        verdict: Any = words_gap(self._verdicts_from + at)
        text: Any = ""
        if self.scale.text:
            text = words_gap(self._verdicts_from + len(self.findings) + at)
        probability = number_gap(2 * len(self._factors) + at)
        return Finding(
            name, quantity, axle, front, estimate, nominal, low, high, verdict, probability,
            source, text,
        )  # fmt: skip

    def fill(self, solved: Solved, found: Sequence[Judged]) -> tuple[list[float], list[bytes]]:
        """Numbers and words of one vehicle, in the order of the gaps."""
        values = solved.values
        numbers = [
            (v * factor * TENS + NO_FRACTION - NO_FRACTION) / TENS
            for v, factor in zip(values, self._factors, strict=True)
        ]
        numbers += map(mul, solved.uncertainties, self._wides)
        numbers += [finding[2] for finding in found]
        words: list[bytes] = []
        if self.scale.text:
            words = [
                said[int(value * per + (HALF if value >= 0.0 else -HALF))]
                for value, (per, said) in zip(values, self._spelled, strict=True)
            ]
        texts = self._finding_texts(found, words) if self.scale.text else []
        words += [_given(solved.numbers[at], self.scale) for at in self._baselines]
        words += [VERDICT_JSON[finding[3]] for finding in found]
        return numbers, words + texts

    def _finding_texts(self, found: Sequence[Judged], texts: Sequence[bytes]) -> list[bytes]:
        written = []
        for (place, _, chance, state), (before, after), form in zip(
            found, self._around, self.findings, strict=True
        ):
            text = texts[place]
            if chance > SURE and state == CONFORMING:
                written.append(before + text[1:-1] + after)
            else:
                said = msgspec.json.decode(text)
                written.append(_encode(finding_words(form[8], said, state, form[9], chance)))
        return written


class PredictionPrint:
    """Prints what a plan leads to."""

    def __init__(self, geometry: GeometryPrint, places: Sequence[int]) -> None:
        self.geometry = geometry
        self.stencil = Stencil(Prediction(**geometry.parts(places)), geometry.numbers)

    def printed(self, solved: Solved, found: Sequence[Judged]) -> bytes:
        """The JSON of a prediction."""
        return self.stencil.filled(*self.geometry.fill(solved, found))
