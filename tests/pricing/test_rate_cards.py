"""A rate card that cannot price is refused with every fault at its place."""

from datetime import date

import pytest
from pricing.cards import D, dollar_card, entry, usd

from service.locale.catalogue import catalogue
from service.pricing.bill import bill
from service.pricing.currencies import currency_of
from service.pricing.derivation import work_from_plan
from service.pricing.errors import PricingError, RateCardError
from service.pricing.lines import Waiver
from service.pricing.money import Money, money
from service.pricing.operations import OPERATIONS
from service.pricing.rate_card import (
    Discount,
    Flat,
    Hourly,
    Minimum,
    PerAxle,
    Stepped,
    Supplies,
    rate_card,
)
from service.pricing.work import Work, with_other_work

USD = currency_of("USD")


def faults(entries=(), currency=USD, rounding="half_up", **more):
    """Where the faults of a card stand, as pointers."""
    with pytest.raises(RateCardError) as caught:
        rate_card(currency, rounding, list(entries), **more)
    assert all(error.reason and error.hint for error in caught.value.errors)
    return ["/".join(str(step) for step in error.path) for error in caught.value.errors]


def test_every_operation_has_a_text_a_meaning_and_a_scope():
    for operation in OPERATIONS.values():
        assert catalogue("en").say(f"operation.{operation.name}")
        assert operation.meaning.endswith(".")
        assert operation.scope in ("axle", "vehicle")


def test_a_card_that_is_right_is_taken():
    assert set(dollar_card().entries) < set(OPERATIONS)


def test_all_faults_are_named_and_not_only_the_first():
    assert faults(
        [
            entry("measure", Flat(money("1", "EUR"))),
            entry("measure", Hourly(D(1))),
            entry("polish", Flat(usd("1"))),
            entry("callout", Stepped(usd("1"), Money(D(-1), USD), step=D(0))),
        ],
        rounding="nearest",
        labour_rate=None,
        minimum=Minimum(money("1", "EUR")),
        supplies=Supplies(D("100.01"), money("1", "CAD")),
        discount=Discount(percent=D(-1)),
        valid_from=date(2026, 2, 1),
        valid_to=date(2026, 1, 31),
    ) == [
        "rounding",
        "valid_to",
        "minimum_charge/price/currency",
        "supplies/percent",
        "supplies/cap/currency",
        "discount/percent",
        "entries/0/rate/price/currency",
        "entries/1/operation",
        "entries/1/rate/labour_rate",
        "entries/2/operation",
        "entries/3/rate/step_price/amount",
        "entries/3/rate/step",
    ]


def test_a_price_by_hours_takes_its_own_labour_rate_before_the_cards():
    own = Hourly(D(2), usd("80.00"))
    card = rate_card(USD, "half_up", [entry("measure", own)], labour_rate=usd("100.00"))
    assert bill(card, work_from_plan([], [])).total == usd("160.00")
    shared = rate_card(USD, "half_up", [entry("measure", Hourly(D(2)))], labour_rate=usd("100.00"))
    assert bill(shared, work_from_plan([], [])).total == usd("200.00")


def test_an_operation_is_included_with_others_that_are_not_included_themselves():
    price = Flat(usd("1"))
    assert faults([entry("measure", price, "measure")]) == ["entries/0/included_with/0"]
    assert faults([entry("measure", price, "polish")]) == ["entries/0/included_with/0"]
    assert faults([entry("measure", price, "remeasure"), entry("remeasure", price, "measure")]) == [
        "entries/0/included_with/0",
        "entries/1/included_with/0",
    ]


def test_a_discount_is_a_percentage_or_an_amount():
    assert faults(discount=Discount()) == ["discount"]
    assert faults(discount=Discount(D(5), usd("5"))) == ["discount"]


@pytest.mark.parametrize("discount", [Discount(D(101)), Discount(amount=money("5", "CAD"))])
def test_a_discount_given_with_the_work_is_checked_as_the_cards_own_is(discount):
    with pytest.raises(PricingError) as caught:
        bill(dollar_card(), work_from_plan([], []), discount=discount)
    assert caught.value.path[0] == "discount"


def test_a_discount_given_with_the_work_takes_the_place_of_the_cards_own():
    card = dollar_card(discount=Discount(percent=D(50)))
    made = bill(card, work_from_plan([], []), discount=Discount(percent=D(10)))
    assert made.total == usd("85.50")
    assert bill(card, work_from_plan([], [])).total == usd("47.50")


@pytest.mark.parametrize(
    ("waiver", "place"),
    [(Waiver("polish", "warranty"), "operation"), (Waiver("measure", "warranty", 1), "axle")],
)
def test_a_waiver_of_nothing_that_can_be_waived_is_refused(waiver, place):
    with pytest.raises(PricingError) as caught:
        bill(dollar_card(), work_from_plan([], []), waivers=[waiver])
    assert caught.value.path == ("waivers", 0, place)


def test_the_supplies_cap_holds_only_above_itself():
    card = rate_card(
        USD,
        "half_up",
        [entry("measure", PerAxle(usd("100.00")))],
        supplies=Supplies(D(10), usd("20.00")),
    )
    assert [
        bill(card, work_from_plan([], [], axles=range(1, axles + 1))).supplies.text
        for axles in (1, 2, 3)
    ] == ["10.00", "20.00", "20.00"]


def test_supplies_and_discount_of_nothing_are_no_lines():
    card = dollar_card(supplies=Supplies(D(0)), discount=Discount(percent=D(0)))
    assert [line.kind for line in bill(card, work_from_plan([], [])).lines] == ["work"]


def test_no_supplies_go_into_the_way_to_the_vehicle():
    card = rate_card(
        USD,
        "half_up",
        [entry("measure", Flat(usd("100.00"))), entry("callout", Flat(usd("60.00")))],
        supplies=Supplies(D(10)),
    )
    account = with_other_work(work_from_plan([], []), [Work("callout")])
    assert bill(card, account).supplies == usd("10.00")
