"""Judges solved quantities against a target set: one finding for each row that applies."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

from service.geometry.pattern import Pattern
from service.geometry.quantities import Quantity
from service.geometry.solve import Solved
from service.geometry.targets import PAIR_QUANTITIES, Target, TargetSet, applies, over_baseline
from service.geometry.verdict import (
    CONFORMING_FROM,
    GUARDED,
    VerdictName,
    conformance_probability,
    verdict,
)

made = tuple.__new__


class Judgement(NamedTuple):
    """Which quantity (by its place in the pattern) a target row judges.

    `scaled`: the row gives a toe in length over a baseline of its own, and its figures are to be
    restated over the axle's.
    """

    quantity: int
    target: Target
    scaled: bool


class Finding(NamedTuple):
    """A quantity judged: limits in metres or radians, probability of lying within them."""

    quantity: int
    target: Target
    probability: float
    verdict: str


def judgements(pattern: Pattern, target_set: TargetSet) -> list[Judgement]:
    """Pair each quantity of a pattern with the rows of a set that speak of it."""
    roles = {axle[0]: axle[1] for axle in pattern.shape.axles}
    found: list[Judgement] = []
    for place, quantity in enumerate(pattern.quantities):
        for target in target_set.rows:
            if not applies(target, roles[quantity.axle], quantity.axle):
                continue
            if target.quantity == quantity.name:
                scaled = quantity.name == "toe_length" and target.baseline is not None
                found.append(Judgement(place, target, scaled))
            elif _judged_as_angle(target, quantity, pattern):
                found.append(Judgement(place, _as_angle(target), False))
    return found


def _judged_as_angle(target: Target, quantity: Quantity, pattern: Pattern) -> bool:
    """A toe in length over the row's own baseline, of an axle that states none: judge its toe."""
    return (
        target.quantity == "toe_length"
        and quantity.name == "toe"
        and target.baseline is not None
        and not any(q.name == "toe_length" and q.axle == quantity.axle for q in pattern.quantities)
    )


def _as_angle(target: Target) -> Target:
    def angle(length: float | None) -> float | None:
        return None if length is None else math.atan(length / (target.baseline or 1.0))

    return target._replace(
        quantity="toe",
        dimension="angle",
        nominal=math.atan(target.nominal / (target.baseline or 1.0)),
        lower=angle(target.lower),
        upper=angle(target.upper),
        baseline=None,
    )


def judgements_of(pattern: Pattern, target_set: TargetSet, built_in: bool) -> list[Judgement]:
    """The same, kept with the pattern for the sets that everybody uses."""
    if not built_in:
        return judgements(pattern, target_set)
    kept = pattern.judgements.get(target_set.id)
    if kept is None:
        kept = pattern.judgements[target_set.id] = judgements(pattern, target_set)
    return kept


def judge(solved: Solved, todo: list[Judgement], rule: str) -> list[Finding]:
    """Judge one solved vehicle; `rule` is "guarded" or "simple"."""
    values, uncertainties = solved.values, solved.uncertainties
    guarded, found = rule == GUARDED, []
    for place, row, scaled in todo:
        value = values[place]
        target = over_baseline(row, baseline_of(solved, place)) if scaled else row
        lower, upper = target.lower, target.upper
        probability = conformance_probability(value, uncertainties[place], lower, upper)
        if guarded and probability >= CONFORMING_FROM:
            state: VerdictName = "conforming"
        else:
            state = verdict(probability, value, lower, upper, rule)
        # As `Finding(...)` makes it, in half the time.
        found.append(made(Finding, (place, target, probability, state)))
    return found


def judge_again(
    solved: Solved, todo: list[Judgement], rule: str, before: Solved, found: Sequence[Finding]
) -> list[Finding]:
    """Judge a vehicle some of whose quantities have changed since it was `found` so `before`.

    What is as it was, and as sure, is judged as it was.
    """
    was, now = before.values, solved.values
    return [
        finding if was[row[0]] == now[row[0]] else judge(solved, [row], rule)[0]
        for row, finding in zip(todo, found, strict=True)
    ]


def baseline_of(solved: Solved, place: int) -> float:
    """Baseline in metres of the toe in length at a place of the pattern's quantities."""
    at = solved.pattern.quantities[place].baseline
    if at is None:
        raise AssertionError("only a toe in length has a baseline")
    baseline: float = solved.numbers[at]
    return baseline


def finding_id(quantity: Quantity) -> str:
    """Name of a finding within its solution: quantity, then axle or pair, front first."""
    if quantity.name in PAIR_QUANTITIES:
        return f"{quantity.name}-{quantity.reference}-{quantity.axle}"
    return f"{quantity.name}-{quantity.axle}"
