"""Judges a stack of vehicles of one pattern: what is sure is seen for all of them at once."""

from collections.abc import Sequence
from typing import Any, Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray

from service.geometry.findings import Finding, Judgement, made
from service.geometry.verdict import (
    ROOT_HALF,
    SURE_FROM,
    conformance_probabilities,
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
    sure = uncertainties > 0.0
    with np.errstate(all="ignore"):
        if lower is not None:
            sure &= (lower - values) / uncertainties * ROOT_HALF < -SURE_FROM
        if upper is not None:
            sure &= (upper - values) / uncertainties * ROOT_HALF > SURE_FROM
    column = [made(Finding, (place, target, 1.0, CONFORMING))] * len(values)
    doubtful = np.flatnonzero(~sure)
    told = values[doubtful].tolist()
    chances = conformance_probabilities(told, uncertainties[doubtful].tolist(), lower, upper)
    for at, value, chance in zip(doubtful.tolist(), told, chances, strict=True):
        state = verdict(chance, value, lower, upper, rule)
        column[at] = made(Finding, (place, target, chance, state))
        if state != CONFORMING:
            failing.add(at)
    return column
