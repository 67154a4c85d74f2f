"""An estimate against the final bill: every difference, and why."""

from typing import NamedTuple

from service.locale.catalogue import Catalogue, catalogue
from service.pricing.bill import Bill
from service.pricing.errors import PricingError
from service.pricing.lines import Line
from service.pricing.money import Money, total
from service.pricing.operations import OPERATIONS
from service.pricing.texts import listed


class Change(NamedTuple):
    """What an operation, or a charge that is no work, came to in the estimate and in the end.

    `planned` and `done` are the axles that it stands for; `reasons` are ids of the catalogue.
    """

    kind: str
    operation: str | None
    estimate: Money
    final: Money
    difference: Money
    planned: tuple[int, ...]
    done: tuple[int, ...]
    reasons: tuple[str, ...]
    text: str


class Comparison(NamedTuple):
    """The totals, their difference, and what changed; the changes add up to the difference."""

    estimate: Money
    final: Money
    difference: Money
    changes: tuple[Change, ...]
    text: str


def compare(estimate: Bill, final: Bill) -> Comparison:
    """Explain the final bill by the estimate, both made with one currency, in its language."""
    if estimate.total.currency != final.total.currency:
        raise PricingError(
            f"An estimate in {estimate.total.currency.code} cannot be compared with a bill in "
            f"{final.total.currency.code}",
            "Make both with one rate card.",
        )
    texts = catalogue(final.language)
    planned, done = _by_subject(estimate), _by_subject(final)
    subjects = dict.fromkeys((*done, *planned))
    changes = tuple(
        _change(subject, planned.get(subject, []), done.get(subject, []), final, texts)
        for subject in sorted(subjects, key=_place)
        if _shape(planned.get(subject, [])) != _shape(done.get(subject, []))
    )
    difference = final.total - estimate.total
    return Comparison(
        estimate.total,
        final.total,
        difference,
        changes,
        _in_total(estimate.total, final.total, difference, texts),
    )


Subject = tuple[str, str | None]
_KINDS = ("work", "minimum", "supplies", "discount")
_OPERATIONS = list(OPERATIONS)


def _place(subject: Subject) -> tuple[int, int]:
    kind, operation = subject
    return _KINDS.index(kind), 0 if operation is None else _OPERATIONS.index(operation)


def _by_subject(bill: Bill) -> dict[Subject, list[Line]]:
    lines: dict[Subject, list[Line]] = {}
    for line in bill.lines:
        lines.setdefault((line.kind, line.operation), []).append(line)
    return lines


def _shape(lines: list[Line]) -> list[tuple[object, ...]]:
    """What must be alike for nothing to be said about a line."""
    return [(line.positions, line.free, line.amount) for line in lines]


def _change(
    subject: Subject, planned: list[Line], done: list[Line], final: Bill, texts: Catalogue
) -> Change:
    kind, operation = subject
    currency = final.total.currency
    before = total([line.amount for line in planned], currency)
    after = total([line.amount for line in done], currency)
    axles, axles_done = _axles(planned), _axles(done)
    reasons = _reasons(operation, planned, done, final)
    what = texts.say(f"operation.{operation}") if operation else texts.say(f"change.{kind}")
    text = _text(what, before, after, axles, axles_done, bool(planned), bool(done), texts)
    for reason in reasons:
        text = texts.say("change.because", change=text, because=texts.say(reason))
    return Change(kind, operation, before, after, after - before, axles, axles_done, reasons, text)


def _text(
    what: str,
    estimate: Money,
    final: Money,
    planned: tuple[int, ...],
    done: tuple[int, ...],
    was_planned: bool,
    was_done: bool,
    texts: Catalogue,
) -> str:
    if not was_planned:
        return texts.say("change.added", what=what, final=final)
    if not was_done:
        return texts.say("change.removed", what=what, estimate=estimate)
    if planned != done:
        return texts.say(
            "change.axles",
            what=what,
            final=final,
            done=_named(done, texts),
            estimate=estimate,
            planned=_named(planned, texts),
        )
    if estimate == final:
        return texts.say("change.otherwise", what=what, final=final)
    return texts.say("change.more", what=what, final=final, estimate=estimate)


def _reasons(
    operation: str | None, planned: list[Line], done: list[Line], final: Bill
) -> tuple[str, ...]:
    """Why planned work is missing from the final bill, or costs nothing on it."""
    if operation is None:
        return ()
    missing = set(_axles(planned)) - set(_axles(done))
    reasons = [
        f"unbilled.{entry.reason}"
        for entry in final.unbilled
        if entry.operation == operation and planned and (not done or missing & set(entry.axles))
    ]
    expected = {line.free for line in planned}
    reasons += [f"free.{line.free}" for line in done if line.free and line.free not in expected]
    return tuple(dict.fromkeys(reasons))


def _axles(lines: list[Line]) -> tuple[int, ...]:
    return tuple(sorted({position.axle for line in lines for position in line.positions}))


def _named(axles: tuple[int, ...], texts: Catalogue) -> str:
    if not axles:
        return texts.say("change.nowhere")
    return texts.say(
        "change.axle" if len(axles) == 1 else "change.several", axles=listed(axles, texts)
    )


def _in_total(estimate: Money, final: Money, difference: Money, texts: Catalogue) -> str:
    if not difference:
        return texts.say("change.total_same", final=final)
    message = "change.total_more" if difference.amount > 0 else "change.total_less"
    size = difference if difference.amount > 0 else -difference
    return texts.say(message, final=final, difference=size, estimate=estimate)
