"""Writes findings; what does not change from vehicle to vehicle is worked out once a pattern."""

from collections.abc import Sequence
from typing import NamedTuple

from service.contract.answer_estimates import RADIAN, Scale, clean
from service.contract.estimates import Estimate
from service.contract.solution import Finding, Verdict
from service.contract.target_sets import Quantity
from service.geometry.finding_words import (
    QUANTITY_NAMES,
    finding_words,
    limits_words,
    where_words,
)
from service.geometry.findings import Finding as Judged
from service.geometry.findings import Judgement, finding_id
from service.geometry.pattern import Pattern
from service.geometry.targets import Target

QUANTITIES = {quantity.value: quantity for quantity in Quantity}
VERDICTS = {verdict.value: verdict for verdict in Verdict}


class Form(NamedTuple):
    """The part of a finding that its row and its axle settle, in the units of the answer."""

    id: str
    quantity: Quantity
    axle: int
    reference: int | None
    nominal: float
    lower: float | None
    upper: float | None
    source: str
    name: str
    """The quantity in words, and whose it is."""
    limits: str


def findings_of(
    found: Sequence[Judged],
    todo: Sequence[Judgement],
    pattern: Pattern,
    estimates: Sequence[Estimate],
    scale: Scale,
    kept_as: str | None,
) -> list[Finding]:
    """The findings of one vehicle; `kept_as` names a built-in target set, whose forms are kept."""
    forms = _forms(todo, pattern, scale, kept_as)
    written = []
    for judged, job, kept in zip(found, todo, forms, strict=True):
        form = _form(judged.target, job, pattern, scale) if job.scaled else kept
        estimate = estimates[judged.quantity]
        text = ""
        if scale.text:
            text = finding_words(
                form.name, estimate.text, judged.verdict, form.limits, judged.probability
            )
        written.append(
            Finding(
                form.id,
                form.quantity,
                form.axle,
                form.reference,
                estimate,
                form.nominal,
                form.lower,
                form.upper,
                VERDICTS[judged.verdict],
                judged.probability,
                form.source,
                text,
            )
        )
    return written


def _forms(
    todo: Sequence[Judgement], pattern: Pattern, scale: Scale, kept_as: str | None
) -> list[Form]:
    key = ("finding forms", kept_as, scale.unit, scale.denominator)
    forms: list[Form] | None = pattern.kept.get(key) if kept_as else None
    if forms is None:
        forms = [_form(job.target, job, pattern, scale) for job in todo]
        if kept_as:
            pattern.kept[key] = forms
    return forms


def _form(target: Target, job: Judgement, pattern: Pattern, scale: Scale) -> Form:
    quantity = pattern.quantities[job.quantity]
    factor = scale.per_metre if quantity.length else RADIAN
    lower, upper = target.lower, target.upper
    return Form(
        finding_id(quantity),
        QUANTITIES[quantity.name],
        quantity.axle,
        quantity.reference,
        clean(target.nominal * factor),
        None if lower is None else clean(lower * factor),
        None if upper is None else clean(upper * factor),
        target.source,
        f"{where_words(quantity.axle, quantity.reference)}: {QUANTITY_NAMES[quantity.name]}",
        limits_words(quantity.name, lower, upper, scale.unit, scale.denominator),
    )
