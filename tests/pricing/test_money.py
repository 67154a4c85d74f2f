"""Money is read strictly, kept in whole minor units and rounded only where a mode is named."""

import copy
import pickle
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.pricing.currencies import CURRENCIES, currency_of
from service.pricing.errors import PricingError
from service.pricing.money import Money, money, read_amount, read_decimal, rounded, total, zero

D = Decimal


@pytest.mark.parametrize(
    "text",
    [
        *("", " ", "1 ", " 1", "1\n", "+1", "1.", ".5", "01", "--1", "1,5", "1,000.00", "1_000"),
        *("1e3", "1E3", "NaN", "nan", "Infinity", "-Infinity", "inf", "sNaN", "0x10", "1.0.0"),
        *("١٢", "１２", "1\u00a0000", "12\x00", "−5", "½", "$5", "5 USD", "-"),
    ],
)
def test_a_text_that_is_no_plain_decimal_is_refused_with_a_hint(text):
    with pytest.raises(PricingError) as caught:
        read_decimal(text)
    assert "1250.00" in caught.value.hint


@pytest.mark.parametrize("text", ["1234567890123", "0.00001", "9" * 5000, "0." + "0" * 5000])
def test_more_digits_than_money_has_are_refused(text):
    with pytest.raises(PricingError, match="too many digits"):
        read_decimal(text)


@pytest.mark.parametrize("text", ["0", "-0", "0.00", "12.50", "-12.5", "999999999999.9999"])
def test_a_plain_decimal_is_read_as_it_stands(text):
    assert read_decimal(text) == D(text)


@pytest.mark.parametrize("text", ["-1", "-0.01", "-0"])
def test_a_price_has_no_minus_sign(text):
    with pytest.raises(PricingError, match="below zero"):
        read_amount(text)


@pytest.mark.parametrize("number", [1.5, 1, True, "1", None])
def test_money_is_made_of_a_decimal_and_of_nothing_else(number):
    with pytest.raises(TypeError):
        Money(number, currency_of("USD"))


@pytest.mark.parametrize("number", ["NaN", "sNaN", "Infinity", "-Infinity"])
def test_money_is_finite(number):
    with pytest.raises(PricingError):
        Money(D(number), currency_of("USD"))


@pytest.mark.parametrize(
    ("text", "code", "hint"),
    [
        ("1.005", "USD", "at most 2 decimals"),
        ("1200.5", "JPY", "without decimals"),
        ("1.2345", "KWD", "at most 3 decimals"),
    ],
)
def test_money_finer_than_its_currency_is_refused_and_not_rounded(text, code, hint):
    with pytest.raises(PricingError) as caught:
        money(text, code)
    assert hint in caught.value.hint
    assert caught.value.path == ("amount",)


@pytest.mark.parametrize(
    ("text", "code", "written"),
    [
        ("5", "USD", "5.00"),
        ("5.0000", "JPY", "5"),
        ("5", "KWD", "5.000"),
        ("1.5", "CLF", "1.5000"),
        ("-0", "EUR", "0.00"),
        ("100000000000", "EUR", "100000000000.00"),
    ],
)
def test_money_is_written_with_all_decimals_of_its_currency(text, code, written):
    assert money(text, code).text == written


@pytest.mark.parametrize(
    ("code", "said"),
    [
        ("usd", "USD"),
        ("XXX", "no minor unit"),
        ("XAU", "no minor unit"),
        ("DEM", "no active"),
        ("", "no active"),
        ("USDX", "no active"),
    ],
)
def test_a_code_that_is_no_currency_is_refused_by_name(code, said):
    with pytest.raises(PricingError, match=said):
        currency_of(code)


def test_two_currencies_are_never_added():
    with pytest.raises(PricingError, match="cannot be added"):
        money("1", "USD") + money("1", "CAD")
    with pytest.raises(PricingError, match="cannot be added"):
        total([money("1", "USD"), money("1", "CAD")], currency_of("USD"))


def test_money_and_a_bare_number_are_never_added():
    with pytest.raises(TypeError):
        money("1", "USD") + D(1)
    with pytest.raises(TypeError):
        sum([money("1", "USD")])


def test_money_does_not_change_and_survives_copying_and_pickling():
    one = money("12.34", "USD")
    with pytest.raises(AttributeError):
        one.amount = D(0)
    assert copy.deepcopy(one) == pickle.loads(pickle.dumps(one)) == one
    assert hash(pickle.loads(pickle.dumps(one))) == hash(one)


def test_no_money_is_never_written_with_a_minus_sign():
    nothing = zero(currency_of("USD"))
    assert (-nothing).text == (nothing - nothing).text == "0.00"
    assert rounded(D("-0.001"), currency_of("USD"), "down").text == "0.00"


# The definitions of the four modes; worked by hand.
@pytest.mark.parametrize(
    ("exact", "half_up", "half_even", "up", "down"),
    [
        ("2.345", "2.35", "2.34", "2.35", "2.34"),
        ("2.355", "2.36", "2.36", "2.36", "2.35"),
        ("2.3450001", "2.35", "2.35", "2.35", "2.34"),
        ("2.341", "2.34", "2.34", "2.35", "2.34"),
        ("-2.345", "-2.35", "-2.34", "-2.35", "-2.34"),
        ("2.34", "2.34", "2.34", "2.34", "2.34"),
    ],
)
def test_rounding_modes_do_what_their_names_say(exact, half_up, half_even, up, down):
    dollar = currency_of("USD")
    assert rounded(D(exact), dollar, "half_up").text == half_up
    assert rounded(D(exact), dollar, "half_even").text == half_even
    assert rounded(D(exact), dollar, "up").text == up
    assert rounded(D(exact), dollar, "down").text == down


@given(
    st.sampled_from(sorted(CURRENCIES)),
    st.lists(st.integers(-(10**14), 10**14), max_size=30),
)
def test_a_sum_of_money_is_the_sum_of_its_minor_units(code, units):
    currency = currency_of(code)
    parts = [Money(D(unit) * currency.quantum, currency) for unit in units]
    assert total(parts, currency).amount / currency.quantum == sum(units)


@given(st.decimals(-(10**12), 10**12, places=4), st.sampled_from(sorted(CURRENCIES)))
def test_every_text_that_money_writes_can_be_read_again(number, code):
    currency = currency_of(code)
    one = rounded(number, currency, "half_even")
    if one.amount.adjusted() < 12:
        assert money(one.text, code) == one
