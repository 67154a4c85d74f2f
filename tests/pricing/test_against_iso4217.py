"""The currency table against ISO 4217 list one, as the package `iso4217` carries it.

The package ships the list that the standard's maintenance agency publishes, unchanged, and is in
the public domain.
"""

import pytest
from iso4217 import __published__, raw_table

from service.pricing.currencies import CURRENCIES, PUBLISHED, WITHOUT_MINOR_UNITS


def test_the_table_is_of_the_day_that_the_list_was_published():
    assert __published__.isoformat() == PUBLISHED


def test_every_currency_of_the_list_has_its_minor_units_here_and_there_is_no_other():
    listed = {
        code: int(row["CcyMnrUnts"])
        for code, row in raw_table.items()
        if code is not None and row["CcyMnrUnts"].isdigit()
    }
    assert {code: one.minor_units for code, one in CURRENCIES.items()} == listed


def test_the_codes_without_a_minor_unit_are_those_that_the_list_gives_none():
    listed = {code for code, row in raw_table.items() if code and row["CcyMnrUnts"] == "N.A."}
    assert listed == WITHOUT_MINOR_UNITS


# From memory: what these currencies are counted in by ISO 4217.
@pytest.mark.parametrize(
    ("code", "digits"),
    [
        *(("USD", 2), ("EUR", 2), ("CAD", 2), ("MXN", 2), ("GBP", 2), ("CHF", 2), ("AUD", 2)),
        *(("JPY", 0), ("KRW", 0), ("CLP", 0), ("ISK", 0), ("VND", 0), ("XAF", 0), ("XOF", 0)),
        *(("KWD", 3), ("BHD", 3), ("OMR", 3), ("JOD", 3), ("TND", 3), ("IQD", 3), ("LYD", 3)),
        ("CLF", 4),
    ],
)
def test_minor_units_are_as_remembered(code, digits):
    assert CURRENCIES[code].minor_units == digits
    assert CURRENCIES[code].quantum.as_tuple().exponent == -digits
