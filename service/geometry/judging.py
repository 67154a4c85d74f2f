"""Judges a stack of vehicles of one pattern: what is sure is seen for all of them at once."""

import math
from collections.abc import Sequence
from typing import Any, Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray

from service.geometry.findings import Finding, Judgement, made
from service.geometry.verdict import ROOT_HALF, SURE_FROM, conformance_probability, verdict

CONFORMING: Literal["conforming"] = "conforming"


class Column(NamedTuple):
    """One row's findings of all vehicles: `sure`, but for those that `others` has by vehicle."""

    sure: Finding
    others: dict[int, Finding]


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
        vehicles: list[int] = np.flatnonzero(doubtful[:, at]).tolist()
        estimates = zip(
            values[vehicles, at].tolist(), uncertainties[vehicles, at].tolist(), strict=True
        )
        sure = made(Finding, (row.quantity, row.target, 1.0, CONFORMING))
        others = _judged_singly(list(estimates), vehicles, row, rule, failing) if vehicles else {}
        columns.append(Column(sure, others))
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
    estimates: Sequence[tuple[float, float]],
    vehicles: Sequence[int],
    row: Judgement,
    rule: str,
    failing: set[int],
) -> dict[int, Finding]:
    """The finding of each of some vehicles; adds to `failing` those that do not conform.

    What was read in the same steps of a scale comes out the same, and is judged once.
    """
    place, target, _ = row
    known: dict[tuple[float, float], Finding] = {}
    others: dict[int, Finding] = {}
    for vehicle, estimate in zip(vehicles, estimates, strict=True):
        finding = known.get(estimate)
        if finding is None:
            value, u = estimate
            chance = conformance_probability(value, u, target.lower, target.upper)
            state = verdict(chance, value, target.lower, target.upper, rule)
            finding = known[estimate] = made(Finding, (place, target, chance, state))
        others[vehicle] = finding
        if finding[3] != CONFORMING:
            failing.add(vehicle)
    return others
