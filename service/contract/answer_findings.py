"""Writes findings; what does not change from vehicle to vehicle is worked out once a pattern."""

from collections.abc import Sequence

from service.contract.answer_estimates import RADIAN, Scale, clean, forms_of
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
CONFORMING = Verdict.CONFORMING.value


Form = tuple[
    str, Quantity, int, int | None, float, float | None, float | None, str, str, str, str, str
]
"""The part of a finding that its row and its axle settle, in the units of the answer: id, quantity,
axle, front axle of a pair, nominal, lower and upper limit, source; then in words whose quantity it
is and its limits, and what stands before and after the estimate of one that surely conforms."""

SURE = 0.99
"""Above this probability every finding that conforms has one and the same words."""


def findings_of(
    found: Sequence[Judged],
    todo: Sequence[Judgement],
    pattern: Pattern,
    estimates: Sequence[Estimate],
    scale: Scale,
    kept_as: str | None,
) -> list[Finding]:
    """The findings of one vehicle; `kept_as` names a built-in target set, whose forms are kept."""
    forms = forms_of_findings(todo, pattern, scale, kept_as)
    words, written = scale.text, []
    for at, (place, target, chance, state) in enumerate(found):
        form = forms[at] or _form(target, todo[at], pattern, scale)
        name, quantity, axle, front, nominal, low, high, source, whose, limits, before, after = form
        estimate = estimates[place]
        if not words:
            text = ""
        elif chance > SURE and state == CONFORMING:
            text = f"{before}{estimate.text}{after}"
        else:
            text = finding_words(whose, estimate.text, state, limits, chance)
        written.append(
            Finding(
                name,
                quantity,
                axle,
                front,
                estimate,
                nominal,
                low,
                high,
                VERDICTS[state],
                chance,
                source,
                text,
            )
        )
    return written


def forms_of_findings(
    todo: Sequence[Judgement], pattern: Pattern, scale: Scale, kept_as: str | None
) -> list[Form | None]:
    """Forms by row, None for a row whose limits hang on the vehicle."""
    if kept_as is None:
        return [None] * len(todo)
    kept = forms_of(pattern, scale).findings
    forms = kept.get(kept_as)
    if forms is None:
        forms = kept[kept_as] = [
            None if job.scaled else _form(job.target, job, pattern, scale) for job in todo
        ]
    return forms


def _form(target: Target, job: Judgement, pattern: Pattern, scale: Scale) -> Form:
    quantity = pattern.quantities[job.quantity]
    factor = scale.per_metre if quantity.length else RADIAN
    lower, upper = target.lower, target.upper
    whose = f"{where_words(quantity.axle, quantity.reference)}: {QUANTITY_NAMES[quantity.name]}"
    limits = limits_words(quantity.name, lower, upper, scale.unit, scale.denominator)
    before, _, after = finding_words(whose, "\0", CONFORMING, limits, 1.0).partition("\0")
    return (
        finding_id(quantity),
        QUANTITIES[quantity.name],
        quantity.axle,
        quantity.reference,
        clean(target.nominal * factor),
        None if lower is None else clean(lower * factor),
        None if upper is None else clean(upper * factor),
        target.source,
        whose,
        limits,
        before,
        after,
    )
