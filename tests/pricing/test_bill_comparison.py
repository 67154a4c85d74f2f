"""An estimate against the final bill: what differs and why, in words."""

import pytest
from pricing.cards import conforming, dollar_card, finding, usd

from service.pricing.bill import bill
from service.pricing.comparison import compare
from service.pricing.currencies import currency_of
from service.pricing.derivation import work_from_plan, work_from_rounds
from service.pricing.errors import PricingError
from service.pricing.lines import Waiver
from service.pricing.rate_card import rate_card
from service.pricing.work import Account, Step, Work, with_other_work

BEFORE = [finding("thrust", 2), finding("thrust", 3), finding("toe", 1)]
PLAN = [
    Step(1, "aim", 2, ("thrust-2",)),
    Step(2, "aim", 3, ("thrust-3",)),
    Step(3, "set_toe", 1, ("toe-1",)),
]
ESTIMATE = bill(dollar_card(), work_from_plan(BEFORE, PLAN))


def final(after, **more):
    return bill(dollar_card(), work_from_rounds(BEFORE, after, PLAN), **more)


def changes(told):
    return {change.operation: change.text for change in told.changes}


def test_work_done_as_planned_comes_to_the_estimate():
    told = compare(ESTIMATE, final(conforming(*BEFORE)))
    assert told.text == "The final amount is the estimated amount, 390.00 USD"
    assert told.changes == ()


def test_an_axle_that_was_not_brought_right_is_taken_off_with_the_reason():
    after = [*conforming(*BEFORE[:1]), BEFORE[1], *conforming(BEFORE[2])]
    told = compare(ESTIMATE, final(after))
    assert told.difference == usd("-140.00")
    assert told.text == (
        "The final amount is 250.00 USD, 140.00 USD less than the estimated 390.00 USD"
    )
    assert changes(told)["aim_axle"] == (
        "Axle aimed to run straight: 140.00 USD for axle 2 instead of 280.00 USD for axles 2 and "
        "3. Not billed as corrected: it is still outside its limits"
    )


def test_an_operation_that_is_gone_is_told_with_the_reason():
    told = compare(ESTIMATE, final(conforming(*BEFORE[:2])))
    assert changes(told)["set_toe"] == (
        "Toe of the wheels set: 65.00 USD estimated, not charged. Not billed as corrected: it was "
        "not read again after the work"
    )


def test_other_work_that_came_up_is_told_as_added():
    account = with_other_work(
        work_from_rounds(BEFORE, conforming(*BEFORE), PLAN), [Work("measure")]
    )
    told = compare(bill(dollar_card(), Account(())), bill(dollar_card(), account))
    assert changes(told)["aim_axle"] == (
        "Axle aimed to run straight: not estimated, 280.00 USD charged"
    )
    assert told.text.endswith("390.00 USD more than the estimated 0.00 USD")


def test_work_that_became_free_is_told_with_the_reason():
    told = compare(ESTIMATE, final(conforming(*BEFORE), waivers=[Waiver("set_toe", "goodwill")]))
    assert changes(told)["set_toe"] == (
        "Toe of the wheels set: 0.00 USD instead of 65.00 USD. No charge: goodwill"
    )


def test_bills_in_two_currencies_are_not_compared():
    other = bill(rate_card(currency_of("CAD"), "half_up", []), Account(()))
    with pytest.raises(PricingError):
        compare(ESTIMATE, other)
