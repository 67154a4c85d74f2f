"""The texts of quantities and of findings, as they stand in JSON, kept by steps of their scale."""

from functools import lru_cache
from typing import Any

import msgspec
import numpy as np
from numpy.typing import NDArray

from service.contract.answer_findings import CONFORMING, SURE, Form
from service.geometry.finding_words import finding_words, percent
from service.geometry.findings import Finding as Judged
from service.geometry.wording import HALF, MOST_SAID, Said, spoken

_encode = msgspec.json.Encoder().encode


def steps_of(value: float, per: float) -> int:
    """Whole steps of a scale, away from zero, that a value comes to; `per` of them to one."""
    return int(value * per + (HALF if value >= 0.0 else -HALF))


def steps_of_all(values: NDArray[np.float64], per: Any) -> NDArray[np.int64]:
    """The same of many values; `per` for all of them, or for each column."""
    steps: NDArray[np.int64] = (values * per + np.where(values >= 0.0, HALF, -HALF)).astype(
        np.int64
    )
    return steps


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


class Sentences:
    """The texts of one row's findings, as JSON.

    What is said around the estimate hangs on the verdict and on whole percents alone, so that few
    sentences serve all vehicles.
    """

    def __init__(self, form: Form, spelled: Spelled) -> None:
        self._form = form
        self._spelled = spelled
        self.sure = Surrounded(spelled, _encode(form[10]), _encode(form[11]))
        self._others: dict[tuple[str, str], Surrounded] = {}

    def of(self, finding: Judged, steps: int) -> bytes:
        """The text of a finding on an estimate of so many steps."""
        _, _, chance, state = finding
        if chance > SURE and state == CONFORMING:
            return self.sure[steps]
        likely = percent(chance)
        around = self._others.get((state, likely))
        if around is None:
            if len(self._others) >= FEW_AROUND:
                self._others.clear()
            around = self._others[state, likely] = self._around(state, chance)
        return around[steps]

    def _around(self, state: str, chance: float) -> Surrounded:
        whose, limits = self._form[8:10]
        before, _, after = finding_words(whose, "\0", state, limits, chance).partition("\0")
        return Surrounded(self._spelled, _encode(before), _encode(after))


FEW_AROUND = 8
"""So many sets of words around estimates are kept for a row, beside the usual one."""
