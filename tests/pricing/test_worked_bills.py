"""Bills worked out by hand, to the minor unit; shops, prices and vehicles are invented."""

from datetime import date

import pytest
from pricing.cards import D, conforming, dollar_card, entry, finding, usd

from service.pricing.bill import bill
from service.pricing.currencies import currency_of
from service.pricing.derivation import work_from_plan, work_from_rounds
from service.pricing.errors import PricingError
from service.pricing.lines import Waiver
from service.pricing.money import money
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
from service.pricing.work import Account, Step, Work, with_other_work

AIM_2, AIM_3 = finding("thrust", 2, text="1/4 in right"), finding("thrust", 3, text="3/16 in left")
TOE_1 = finding("toe", 1, text="1/8 in in")
PLAN = [
    Step(1, "aim", 2, ("thrust-2",)),
    Step(2, "aim", 3, ("thrust-3",)),
    Step(3, "set_toe", 1, ("toe-1",)),
]


def shown(made):
    """What a reader sees of the lines: text, quantity, unit price, amount."""
    return [
        (line.text, f"{line.quantity:f}", line.unit, line.unit_price.text, line.amount.text)
        for line in made.lines
    ]


def test_a_flat_bill_in_dollars():
    """140 + 140 + 65 + 45 = 390; supplies 5 % = 19.50; discount 10 % = 39; 370.50 in all."""
    card = dollar_card(supplies=Supplies(D("5"), usd("25.00")), discount=Discount(percent=D("10")))
    made = bill(card, work_from_plan([AIM_2, AIM_3, TOE_1], PLAN))
    assert shown(made) == [
        ("Axle alignment measured on every axle", "1", "job", "95.00", "0.00"),
        ("Axle aimed to run straight, axle 2", "1", "axle", "140.00", "140.00"),
        ("Axle aimed to run straight, axle 3", "1", "axle", "140.00", "140.00"),
        ("Toe of the wheels set, axle 1", "1", "job", "65.00", "65.00"),
        ("Axle alignment measured again after the work", "1", "job", "45.00", "45.00"),
        ("Shop supplies, 5 %", "1", "job", "19.50", "19.50"),
        ("Discount, 10 %", "1", "job", "-39.00", "-39.00"),
    ]
    assert made.lines[0].free == "included"
    assert made.lines[0].free_text == "Included in the price of the other work"
    assert (made.subtotal, made.supplies) == (usd("390.00"), usd("19.50"))
    assert (made.discount, made.total) == (usd("-39.00"), usd("370.50"))


def test_hours_in_euros_with_minimum_supplies_cap_and_rounding_to_even():
    """1.25 h at 89.50 = 111.875, to even 111.88; 0.75 h = 67.125, to even 67.12; 179.00.

    Minimum 250: 71.00 on top. Supplies 8.5 % of 179.00 = 15.215, over the cap of 12.00.
    Less 20.00: 242.00.
    """
    eur = currency_of("EUR")
    card = rate_card(
        eur,
        "half_even",
        [entry("aim_axle", Hourly(D("1.25"))), entry("set_toe", Hourly(D("0.75")))],
        labour_rate=money("89.50", "EUR"),
        minimum=Minimum(money("250", "EUR")),
        supplies=Supplies(D("8.5"), money("12", "EUR")),
        discount=Discount(amount=money("20", "EUR")),
    )
    made = bill(card, work_from_rounds([AIM_2, TOE_1], conforming(AIM_2, TOE_1)))
    assert shown(made) == [
        ("Axle aimed to run straight, axle 2", "1.25", "hour", "89.50", "111.88"),
        ("Toe of the wheels set, axle 1", "0.75", "hour", "89.50", "67.12"),
        ("Minimum charge", "1", "job", "71.00", "71.00"),
        ("Shop supplies, 8.5 %, at most 12.00 EUR", "1", "job", "12.00", "12.00"),
        ("Discount", "1", "job", "-20.00", "-20.00"),
    ]
    assert made.subtotal.text == "250.00"
    assert made.total.text == "242.00"
    assert [(one.reason, one.operation) for one in made.unbilled] == [
        ("no_rate", "measure"),
        ("no_rate", "remeasure"),
    ]


def test_yen_have_no_decimals():
    """0.35 h at 9850 = 3447.5, down 3447; two axles 6894; measured 3 axles at 1500 = 4500.

    11394 in all; supplies 3 % = 341.82, down 341; 11735.
    """
    jpy = currency_of("JPY")
    card = rate_card(
        jpy,
        "down",
        [
            entry("measure", PerAxle(money("1500", "JPY"))),
            entry("aim_axle", Hourly(D("0.35"), money("9850", "JPY"))),
        ],
        supplies=Supplies(D("3")),
    )
    account = work_from_plan([AIM_2, AIM_3], PLAN[:2], axles=(1, 2, 3))
    made = bill(card, account)
    assert shown(made) == [
        ("Axle alignment measured on every axle", "3", "axle", "1500", "4500"),
        ("Axle aimed to run straight, axle 2", "0.35", "hour", "9850", "3447"),
        ("Axle aimed to run straight, axle 3", "0.35", "hour", "9850", "3447"),
        ("Shop supplies, 3 %", "1", "job", "341", "341"),
    ]
    assert made.total.text == "11735"


def test_kuwaiti_dinars_have_three_decimals():
    """0.7 h at 12.345 = 8.6415, up 8.642; discount 7.5 % = 0.64815, up 0.649; 7.993."""
    kwd = currency_of("KWD")
    card = rate_card(
        kwd,
        "up",
        [entry("square_steer_axle", Hourly(D("0.7")))],
        labour_rate=money("12.345", "KWD"),
        discount=Discount(percent=D("7.5")),
    )
    square = finding("setback", 1)
    made = bill(card, work_from_rounds([square], conforming(square)))
    assert shown(made) == [
        ("Steer axle squared to the frame, axle 1", "0.7", "hour", "12.345", "8.642"),
        ("Discount, 7.5 %", "1", "job", "-0.649", "-0.649"),
    ]
    assert made.total.text == "7.993"


def test_a_base_plus_steps_counts_a_step_begun_as_whole():
    """A call-out of 37 miles: 60.00 covers 20; 17 more are four steps of 5 at 4.50 = 18.00."""
    card = rate_card(
        currency_of("USD"),
        "half_up",
        [entry("callout", Stepped(usd("60.00"), usd("4.50"), D(20), D(5)))],
    )
    account = with_other_work(Account(()), [Work("callout", quantity=D(37))])
    assert shown(bill(card, account)) == [
        ("Call-out to the vehicle", "1", "job", "60.00", "60.00"),
        ("Call-out to the vehicle (further)", "4", "step", "4.50", "18.00"),
    ]


def test_a_base_plus_steps_over_axles_keeps_each_axle_and_its_evidence_on_one_line():
    """First axle 140.00, each further one 90.00: axles 2, 3 and 4 come to 320.00."""
    card = rate_card(
        currency_of("USD"), "half_up", [entry("aim_axle", Stepped(usd("140.00"), usd("90.00")))]
    )
    aims = [finding("thrust", axle) for axle in (2, 3, 4)]
    made = bill(card, work_from_rounds(aims, conforming(*aims)))
    assert shown(made) == [
        ("Axle aimed to run straight, axle 2", "1", "job", "140.00", "140.00"),
        ("Axle aimed to run straight, axles 3 and 4 (further)", "2", "step", "90.00", "180.00"),
    ]
    assert [[item.finding for item in line.evidence] for line in made.lines] == [
        ["thrust-2"],
        ["thrust-3", "thrust-4"],
    ]


def test_warranty_work_is_shown_with_its_reason_and_costs_nothing():
    """Aim of axle 2 is warranty: 0; axle 3 140.00; toe 65.00; re-measured 45.00; 250.00."""
    account = work_from_rounds([AIM_2, AIM_3, TOE_1], conforming(AIM_2, AIM_3, TOE_1))
    made = bill(dollar_card(), account, waivers=[Waiver("aim_axle", "warranty", 2)])
    line = next(line for line in made.lines if line.free == "warranty")
    assert (line.text, line.unit_price.text, line.amount.text) == (
        "Axle aimed to run straight, axle 2",
        "140.00",
        "0.00",
    )
    assert line.free_text == "No charge: covered by warranty"
    assert made.total == usd("250.00")


def test_a_comeback_leaves_nothing_to_pay_and_no_minimum_charge():
    account = work_from_rounds([TOE_1], conforming(TOE_1))
    waivers = [Waiver(name, "comeback") for name in ("measure", "set_toe", "remeasure")]
    card = dollar_card(
        minimum=Minimum(usd("150.00")),
        supplies=Supplies(D("5")),
        discount=Discount(amount=usd("10.00")),
    )
    made = bill(card, account, waivers=waivers)
    assert [line.kind for line in made.lines] == ["work"] * 3
    assert made.total == usd("0.00")


def test_measuring_is_charged_when_no_correction_is():
    made = bill(dollar_card(), work_from_plan([TOE_1._replace(verdict="conforming")], []))
    assert shown(made) == [("Axle alignment measured on every axle", "1", "job", "95.00", "95.00")]


def test_measuring_is_charged_when_the_correction_that_includes_it_is_free():
    account = work_from_rounds([TOE_1], conforming(TOE_1))
    made = bill(dollar_card(), account, waivers=[Waiver("set_toe", "goodwill")])
    assert [line.amount.text for line in made.lines] == ["95.00", "0.00", "45.00"]


def test_a_flat_price_is_charged_once_for_all_axles():
    """Twin steer: both toes set for one price of 65.00."""
    toes = [finding("toe", 1), finding("toe", 2)]
    made = bill(dollar_card(), work_from_rounds(toes, conforming(*toes)))
    line = next(line for line in made.lines if line.operation == "set_toe")
    assert (line.text, line.amount.text) == ("Toe of the wheels set, axles 1 and 2", "65.00")
    assert [position.axle for position in line.positions] == [1, 2]


def test_a_discount_is_never_more_than_the_work():
    made = bill(
        dollar_card(supplies=Supplies(D("10"))),
        work_from_plan([], []),
        discount=Discount(amount=usd("500.00")),
    )
    assert shown(made)[-1] == (
        "Discount, limited to the price of the work",
        "1",
        "job",
        "-95.00",
        "-95.00",
    )
    assert made.total == usd("9.50")


def test_codes_tax_categories_and_own_texts_pass_through_untouched():
    hostile = '=cmd|"/c calc"!A1 <b>&amp;\u202e{0}{what} %s 🚛\x00'
    plain = entry("measure", Flat(usd("95.00")))
    card = rate_card(
        currency_of("USD"),
        "half_up",
        [plain._replace(marks=plain.marks._replace(code=hostile, tax_category=hostile))],
    )
    line = bill(card, work_from_plan([], [])).lines[0]
    assert (line.code, line.tax_category) == (hostile, hostile)
    own = plain._replace(marks=plain.marks._replace(text=hostile))
    card = rate_card(currency_of("USD"), "half_up", [own])
    assert bill(card, work_from_plan([], [])).lines[0].text == hostile


def test_the_axle_location_counts_axles_from_zero_in_its_high_bits():
    """SAE J2735 7.54: high four bits front to back, low four left to right; origin from memory."""
    wheels = [finding("toe_left", 1), finding("toe_right", 2), finding("toe", 3)]
    made = bill(dollar_card(), work_from_rounds(wheels, conforming(*wheels)))
    assert [
        bytes([position.axle_location]).hex()
        for line in made.lines
        if line.operation == "set_toe"
        for position in line.positions
    ] == ["00", "11", "20"]
    right = finding("toe_right", 2)
    made = bill(dollar_card(), work_from_rounds([right], conforming(right)))
    line = next(line for line in made.lines if line.operation == "set_toe")
    assert line.text == "Toe of the wheels set, axle 2, right side"


def test_a_card_holds_from_its_first_to_its_last_day():
    card = dollar_card(valid_from=date(2026, 1, 1), valid_to=date(2026, 6, 30))
    account = work_from_plan([], [])
    for day in (date(2026, 1, 1), date(2026, 6, 30)):
        assert bill(card, account, day=day).total == usd("95.00")
    for day in (date(2025, 12, 31), date(2026, 7, 1), None):
        with pytest.raises(PricingError) as caught:
            bill(card, account, day=day)
        assert caught.value.path == ("date",)
