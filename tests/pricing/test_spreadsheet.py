"""A bill as comma-separated values: every reader finds the same fields, and none runs anything."""

import csv
import io

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pricing.cards import D, conforming, entry, finding, usd

from service.pricing.bill import bill
from service.pricing.currencies import currency_of
from service.pricing.derivation import work_from_rounds
from service.pricing.rate_card import Discount, Entry, Flat, Marks, rate_card
from service.pricing.spreadsheet import COLUMNS, comma_separated, guarded

# Leading characters by OWASP, "CSV Injection", and OWASP ASVS 5.0, 1.2.10.
TRIGGERS = (
    "=",
    "+",
    "-",
    "@",
    "\t=",
    "\r=",
    "\n=",
    "\x00=",
    "＝",
    "＋",
    "－",
    "＠",
    " =",
    "\ufeff=",
)
TOE = finding("toe", 1, text="-1/8 in")


def exported(code="C1", text="", tax="T"):
    """The rows of a bill whose shop wrote these things on its card."""
    card = rate_card(
        currency_of("USD"),
        "half_up",
        [Entry("set_toe", Flat(usd("65.00")), Marks(code, tax, text))],
        discount=Discount(percent=D(10), marks=Marks(code, tax, text)),
    )
    made = comma_separated(bill(card, work_from_rounds([TOE], conforming(TOE))))
    return list(csv.DictReader(io.StringIO(made, newline=""), strict=True))


def test_a_bill_is_written_with_a_heading_a_row_a_line_and_the_total():
    rows = exported()
    assert list(rows[0]) == list(COLUMNS)
    assert [(row["kind"], row["amount"], row["currency"]) for row in rows] == [
        ("work", "65.00", "USD"),
        ("discount", "-6.50", "USD"),
        ("total", "58.50", "USD"),
    ]
    assert rows[0]["text"] == "Toe of the wheels set, axle 1"
    assert (rows[0]["axles"], rows[0]["axle_locations"]) == ("1", "0")
    assert (rows[0]["findings"], rows[0]["before"], rows[0]["after"]) == ("toe-1", "'-1/8 in", "0")


@pytest.mark.parametrize("trigger", TRIGGERS)
@pytest.mark.parametrize("place", ["code", "text", "tax"])
def test_a_text_that_looks_like_a_formula_is_written_as_text(trigger, place):
    column = {"tax": "tax_category"}.get(place, place)
    for row in exported(**{place: f"{trigger}1+1"})[:2]:
        assert row[column].startswith("'")


def test_a_formula_cannot_hide_behind_a_separator_that_another_country_uses():
    assert guarded('a;=1+1|+2",\t@x') == "a;'=1+1|'+2\",' @x"
    assert guarded("1/8 in left, 0.2° - 0.3°") == "1/8 in left, 0.2° - 0.3°"


@given(st.text(max_size=60))
def test_no_text_starts_like_a_formula_or_breaks_the_rows(text):
    rows = exported(code=text, text=text, tax=text)
    assert len(rows) == 3
    assert all(None not in row and None not in row.values() for row in rows)
    for row in rows:
        for column in ("code", "text", "tax_category", "before", "after"):
            assert not row[column].lstrip().startswith(("=", "+", "-", "@", "＝", "＋", "－", "＠"))
            assert not set(row[column]) & {"\t", "\r", "\n", "\x00"}


def test_numbers_stay_numbers():
    for row in exported():
        assert D(row["amount"]).is_finite()


@pytest.mark.parametrize(
    "text", ["<b>&amp;</b>", "شاحنة", "\u202eabc", "🚛👨‍👩‍👧", "x" * 500, 'he said "no", twice']
)
def test_harmless_texts_arrive_as_they_were_sent(text):
    assert exported(code=text)[0]["code"] == text


def test_an_export_is_quoted_throughout_and_ends_its_rows_as_rfc_4180_says():
    card = rate_card(currency_of("USD"), "half_up", [entry("set_toe", Flat(usd("65.00")))])
    made = comma_separated(bill(card, work_from_rounds([TOE], conforming(TOE))))
    assert all(row.startswith('"') and row.endswith('"') for row in made.split("\r\n") if row)
    assert made.endswith("\r\n")
