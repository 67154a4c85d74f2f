"""Judges a stack of vehicles of one pattern: what is sure is seen for all of them at once."""

from collections.abc import Iterator, Sequence
from math import erf
from typing import Any, Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray

from service.geometry.findings import Finding, Judgement, made
from service.geometry.verdict import (
    CONFORMING_FROM,
    GUARDED,
    ROOT_HALF,
    SURE_FROM,
    VerdictName,
    conformance_probability,
    verdict,
)

CONFORMING: Literal["conforming"] = "conforming"


class Judged(NamedTuple):
    """For each row of the targets the findings of all vehicles, and which of these do not conform.

    `failing` holds the places of vehicles that have a finding of another verdict.
    """

    columns: list[list[Finding]]
    failing: set[int]

    def of(self, place: int) -> list[Finding]:
        """The findings of one vehicle."""
        return [column[place] for column in self.columns]


def judge_stack(
    values: NDArray[np.float64],
    uncertainties: NDArray[np.float64],
    todo: Sequence[Judgement],
    rule: str,
) -> Judged:
    """Judge each vehicle as `judge` does, to the last bit; no row may be `scaled`.

    `values` and `uncertainties` are those of the stack, of shape (vehicles, quantities).
    """
    failing: set[int] = set()
    columns = [
        _column(values[:, row.quantity], uncertainties[:, row.quantity], row, rule, failing)
        for row in todo
    ]
    return Judged(columns, failing)


def _column(
    values: Any, uncertainties: Any, row: Judgement, rule: str, failing: set[int]
) -> list[Finding]:
    """One row's finding of each vehicle; adds to `failing` those that do not conform."""
    place, target, _ = row
    lower, upper = target.lower, target.upper
    with np.errstate(all="ignore"):
        below = None if lower is None else (lower - values) / uncertainties * ROOT_HALF
        above = None if upper is None else (upper - values) / uncertainties * ROOT_HALF
    sure = uncertainties > 0.0
    if below is not None:
        sure &= below < -SURE_FROM
    if above is not None:
        sure &= above > SURE_FROM
    column = [made(Finding, (place, target, 1.0, CONFORMING))] * len(values)
    doubtful = np.flatnonzero(~sure)
    chances = _chances(values, uncertainties, lower, upper, below, above, doubtful)
    for at, chance in zip(doubtful.tolist(), chances, strict=True):
        if chance >= CONFORMING_FROM and rule == GUARDED:
            state: VerdictName = CONFORMING
        else:
            state = verdict(chance, float(values[at]), lower, upper, rule)
        column[at] = made(Finding, (place, target, chance, state))
        if state != CONFORMING:
            failing.add(at)
    return column


def _chances(
    values: Any,
    uncertainties: Any,
    lower: float | None,
    upper: float | None,
    below: Any,
    above: Any,
    places: Any,
) -> Iterator[float]:
    """Probabilities of conformance of those vehicles, as `conformance_probability` says of one."""
    if below is None or above is None:
        for value, u in zip(values[places].tolist(), uncertainties[places].tolist(), strict=True):
            yield conformance_probability(value, u, lower, upper)
        return
    for at, under, over in zip(
        places.tolist(), below[places].tolist(), above[places].tolist(), strict=True
    ):
        if under < 0.0 < over and uncertainties[at] > 0.0:
            yield 0.5 * (erf(over) - erf(under))
        else:
            yield conformance_probability(float(values[at]), float(uncertainties[at]), lower, upper)
