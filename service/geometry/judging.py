"""Judges a stack of vehicles of one pattern: what is sure is seen for all of them at once."""

from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from service.geometry.findings import Finding, Judgement, judge, made
from service.geometry.solve import Solved
from service.geometry.verdict import ROOT_HALF, SURE_FROM, conformance_probability, verdict


def judge_stack(
    stack: Sequence[Solved],
    values: NDArray[np.float64],
    uncertainties: NDArray[np.float64],
    todo: list[Judgement],
    rule: str,
) -> list[list[Finding]]:
    """Findings of each vehicle as `judge` makes them, to the last bit.

    `values` and `uncertainties` are those of the stack, of shape (vehicles, quantities).
    """
    if any(row.scaled for row in todo):
        return [judge(solved, todo, rule) for solved in stack]
    columns = [
        _column(values[:, row.quantity], uncertainties[:, row.quantity], row, rule) for row in todo
    ]
    return [list(found) for found in zip(*columns, strict=True)] if columns else [[] for _ in stack]


def _column(values: Any, uncertainties: Any, row: Judgement, rule: str) -> list[Finding]:
    """One row's finding of each vehicle."""
    place, target, _ = row
    lower, upper = target.lower, target.upper
    sure = uncertainties > 0.0
    with np.errstate(all="ignore"):
        if lower is not None:
            sure &= (lower - values) / uncertainties * ROOT_HALF < -SURE_FROM
        if upper is not None:
            sure &= (upper - values) / uncertainties * ROOT_HALF > SURE_FROM
    column = [made(Finding, (place, target, 1.0, "conforming"))] * len(values)
    for at in np.flatnonzero(~sure).tolist():
        value, u = float(values[at]), float(uncertainties[at])
        probability = conformance_probability(value, u, lower, upper)
        state = verdict(probability, value, lower, upper, rule)
        column[at] = made(Finding, (place, target, probability, state))
    return column
