"""Judges a stack of vehicles of one pattern: what is sure is seen for all of them at once."""

import math
from collections.abc import Sequence
from typing import Any, Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray

from service.geometry.findings import Finding, Judgement, made
from service.geometry.verdict import ROOT_HALF, SURE_FROM, conformance_probability, verdict

CONFORMING: Literal["conforming"] = "conforming"


Estimate = tuple[float, float]
"""A value and its standard uncertainty."""


class Column(NamedTuple):
    """One row's findings of all vehicles: `sure`, but for those that `others` has by vehicle.

    `conform`: whether all of them have that verdict.
    """

    sure: Finding
    others: dict[int, Finding]
    conform: bool


def _surely(row: Judgement) -> Finding:
    finding: Finding = made(Finding, (row.quantity, row.target, 1.0, CONFORMING))
    return finding


class Judged(NamedTuple):
    """For each row of the targets the findings of all vehicles, and which of these do not conform.

    `failing` holds the places of vehicles that have a finding of another verdict.
    """

    columns: list[Column]
    failing: set[int]

    def of(self, place: int) -> list[Finding]:
        """The findings of one vehicle."""
        return [column.others.get(place, column.sure) for column in self.columns]


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
    if not todo:
        return Judged([], failing)
    places = [row.quantity for row in todo]
    values, uncertainties = values[:, places], uncertainties[:, places]
    doubtful = ~_sure(values, uncertainties, todo)
    columns = []
    for at, row in enumerate(todo):
        others, conform = dict[int, Finding](), True
        vehicles = np.flatnonzero(doubtful[:, at])
        if len(vehicles):
            told = values[vehicles, at].tolist(), uncertainties[vehicles, at].tolist()
            estimates = list(zip(*told, strict=True))
            found = _judged_singly(estimates, row, rule)
            others = dict(zip(vehicles.tolist(), map(found.__getitem__, estimates), strict=True))
            conform = all(finding[3] == CONFORMING for finding in found.values())
            if not conform:
                failing.update(at for at, finding in others.items() if finding[3] != CONFORMING)
        columns.append(Column(_surely(row), others, conform))
    return Judged(columns, failing)


def _sure(values: Any, uncertainties: Any, todo: Sequence[Judgement]) -> Any:
    """Of each finding whether it conforms as surely as a number can say."""
    lower = [-math.inf if row.target.lower is None else row.target.lower for row in todo]
    upper = [math.inf if row.target.upper is None else row.target.upper for row in todo]
    with np.errstate(all="ignore"):
        below = (lower - values) / uncertainties * ROOT_HALF
        above = (upper - values) / uncertainties * ROOT_HALF
        return (uncertainties > 0.0) & (below < -SURE_FROM) & (above > SURE_FROM)


def _judged_singly(
    estimates: Sequence[Estimate], row: Judgement, rule: str
) -> dict[Estimate, Finding]:
    """The finding on each estimate; of those that come again, as steps of a scale do, one."""
    place, target, _ = row
    lower, upper = target.lower, target.upper
    found: dict[Estimate, Finding] = {}
    for estimate in set(estimates):
        value, u = estimate
        chance = conformance_probability(value, u, lower, upper)
        state = verdict(chance, value, lower, upper, rule)
        found[estimate] = made(Finding, (place, target, chance, state))
    return found
