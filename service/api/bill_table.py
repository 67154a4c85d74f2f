"""A bill that was answered before, as the table that a spreadsheet opens."""

from decimal import Decimal

from service.contract.line_items import LineEvidence, LineItem, LineItemsAnswer
from service.contract.rate_cards import Money as Amount
from service.pricing.bill import Bill
from service.pricing.lines import Line, Position
from service.pricing.money import Money, money
from service.pricing.spreadsheet import comma_separated
from service.pricing.work import Evidence


def table_of(answer: LineItemsAnswer) -> bytes:
    """The lines and the total as comma-separated values, safe for any spreadsheet."""
    total = _money(answer.total)
    bill = Bill(
        tuple(_line(line) for line in answer.lines),
        _money(answer.subtotal),
        _money(answer.supplies),
        _money(answer.discount),
        total,
        answer.rounding.value,
        (),
        answer.language,
    )
    return comma_separated(bill).encode()


def _money(amount: Amount) -> Money:
    return money(amount.amount, amount.currency)


def _line(line: LineItem) -> Line:
    return Line(
        line.kind.value,
        None if line.operation is None else line.operation.value,
        line.code,
        line.text,
        tuple(
            Position(one.axle, None if one.side is None else one.side.value)
            for one in line.positions
        ),
        Decimal(line.quantity),
        line.unit.value,
        _money(line.unit_price),
        _money(line.amount),
        tuple(_evidence(item) for item in line.evidence),
        tuple(line.steps),
        None if line.free is None else line.free.value,
        line.tax_category,
        line.free_text,
    )


def _evidence(item: LineEvidence) -> Evidence:
    return Evidence(
        item.finding,
        item.quantity.value,
        item.axle,
        item.verdict_before.value,
        item.before,
        item.after,
    )
