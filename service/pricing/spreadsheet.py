"""A bill as comma-separated values that a spreadsheet can open without running anything.

RFC 4180, every field quoted. A text that a spreadsheet could take for a formula gets an apostrophe
in front (OWASP, "CSV Injection"); numbers are written by this module alone and stay numbers.
"""

import csv
import io
import re
import unicodedata
from collections.abc import Iterable

from service.pricing.bill import Bill
from service.pricing.lines import Line

COLUMNS = (
    "line",
    "kind",
    "code",
    "text",
    "axles",
    "side",
    "axle_locations",
    "quantity",
    "unit",
    "unit_price",
    "amount",
    "currency",
    "free",
    "tax_category",
    "findings",
    "steps",
    "before",
    "after",
)
# A spreadsheet that expects another separator splits a field in the middle, so what follows one
# is guarded like what comes first; blanks and signs of no width in between hide nothing.
# Full-width forms are folded to the plain ones by some spreadsheets.
_FORMULA = re.compile(r"(\A|[;,|\"])([\s\u00ad\u200b-\u200f\u2060\ufeff]*)([=+\-@＝＋－＠])")
_CONTROL = frozenset({"Cc", "Cs", "Zl", "Zp"})
_SEPARATOR = "; "


def comma_separated(bill: Bill) -> str:
    """The lines of a bill under a heading, and a last row with the total."""
    out = io.StringIO()
    writer = csv.writer(out, quoting=csv.QUOTE_ALL, lineterminator="\r\n")
    writer.writerow(COLUMNS)
    for number, line in enumerate(bill.lines, start=1):
        writer.writerow(_row(number, line))
    total = dict.fromkeys(COLUMNS, "")
    total |= {"kind": "total", "amount": bill.total.text, "currency": bill.total.currency.code}
    writer.writerow(total.values())
    return out.getvalue()


def guarded(text: str) -> str:
    """A text that no spreadsheet takes for a formula; control characters become blanks."""
    flat = "".join(" " if unicodedata.category(sign) in _CONTROL else sign for sign in text)
    return _FORMULA.sub(r"\1'\2\3", flat.strip())


def _row(number: int, line: Line) -> list[str]:
    sides = dict.fromkeys(position.side for position in line.positions if position.side)
    return [
        str(number),
        line.kind,
        guarded(line.code),
        guarded(line.text),
        _joined(str(position.axle) for position in line.positions),
        _joined(guarded(side) for side in sides),
        _joined(str(position.axle_location) for position in line.positions),
        f"{line.quantity:f}",
        line.unit,
        line.unit_price.text,
        line.amount.text,
        line.amount.currency.code,
        line.free_text or "",
        guarded(line.tax_category),
        _joined(guarded(item.finding) for item in line.evidence),
        _joined(str(step) for step in line.steps),
        _joined(guarded(item.before or "") for item in line.evidence),
        _joined(guarded(item.after or "") for item in line.evidence),
    ]


def _joined(parts: Iterable[str]) -> str:
    return _SEPARATOR.join(parts)
