"""Writes a bill, and what became of its estimate, as they are answered."""

from service.contract.line_items import (
    BillChange,
    BillComparison,
    BillStage,
    FreeReason,
    LineEvidence,
    LineItem,
    LineItemsAnswer,
    LineKind,
    LinePosition,
    LineUnit,
    UnbilledReason,
    UnbilledWork,
)
from service.contract.rate_cards import Money, RoundingMode, WorkOperation
from service.contract.readings import Side
from service.contract.solution import Verdict
from service.contract.target_sets import Quantity
from service.pricing.bill import Bill
from service.pricing.comparison import Change, Comparison
from service.pricing.lines import Line, Position, unbilled_text
from service.pricing.money import Money as Amount
from service.pricing.work import Evidence, Unbilled

# Members by value: a look-up costs a tenth of calling the enum.
_OPERATIONS: dict[str | None, WorkOperation] = {one.value: one for one in WorkOperation}
_SIDES: dict[str | None, Side] = {one.value: one for one in Side}
_FREE: dict[str | None, FreeReason] = {one.value: one for one in FreeReason}
_KINDS = {one.value: one for one in LineKind}
_UNITS = {one.value: one for one in LineUnit}
_QUANTITIES = {one.value: one for one in Quantity}
_VERDICTS = {one.value: one for one in Verdict}


def line_items_answer(
    stage: BillStage, bill: Bill, comparison: Comparison | None
) -> LineItemsAnswer:
    """The answer to a request for line items."""
    return LineItemsAnswer(
        stage=stage,
        currency=bill.total.currency.code,
        rounding=RoundingMode(bill.rounding),
        language=bill.language,
        lines=[_line(line) for line in bill.lines],
        subtotal=_money(bill.subtotal),
        supplies=_money(bill.supplies),
        discount=_money(bill.discount),
        total=_money(bill.total),
        unbilled=[_unbilled(entry, bill.language) for entry in bill.unbilled],
        comparison=None if comparison is None else _comparison(comparison),
    )


def _money(amount: Amount) -> Money:
    return Money(amount=amount.text, currency=amount.currency.code)


def _line(line: Line) -> LineItem:
    price = _money(line.unit_price)
    return LineItem(
        _KINDS[line.kind],
        _OPERATIONS.get(line.operation),
        line.code,
        line.text,
        [_position(position) for position in line.positions],
        f"{line.quantity:f}",
        _UNITS[line.unit],
        price,
        price if line.amount is line.unit_price else _money(line.amount),
        [_evidence(item) for item in line.evidence],
        list(line.steps),
        _FREE.get(line.free),
        line.free_text,
        line.tax_category,
    )


def _position(position: Position) -> LinePosition:
    return LinePosition(position.axle, _SIDES.get(position.side), position.axle_location)


def _evidence(item: Evidence) -> LineEvidence:
    return LineEvidence(
        item.finding,
        _QUANTITIES[item.quantity],
        item.axle,
        _VERDICTS[item.verdict_before],
        item.before,
        item.after,
    )


def _unbilled(entry: Unbilled, language: str) -> UnbilledWork:
    return UnbilledWork(
        reason=UnbilledReason(entry.reason),
        operation=_OPERATIONS.get(entry.operation),
        axles=list(entry.axles),
        findings=list(entry.findings),
        steps=list(entry.steps),
        text=unbilled_text(entry, language),
    )


def _comparison(comparison: Comparison) -> BillComparison:
    return BillComparison(
        estimate=_money(comparison.estimate),
        final=_money(comparison.final),
        difference=_money(comparison.difference),
        changes=[_change(change) for change in comparison.changes],
        text=comparison.text,
    )


def _change(change: Change) -> BillChange:
    return BillChange(
        kind=_KINDS[change.kind],
        operation=_OPERATIONS.get(change.operation),
        estimate=_money(change.estimate),
        final=_money(change.final),
        difference=_money(change.difference),
        planned_axles=list(change.planned),
        final_axles=list(change.done),
        text=change.text,
    )
