"""Whatever the card and the findings: the lines add up, nothing is billed twice or for nothing."""

from fractions import Fraction
from itertools import combinations
from math import ceil, floor

import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st
from pricing.cards import D, conforming, entry, finding
from pricing.strategies import cards, other_work, rounds, waivers

from service.pricing.bill import bill
from service.pricing.comparison import compare
from service.pricing.currencies import CURRENCIES
from service.pricing.derivation import work_from_plan, work_from_rounds
from service.pricing.lines import unbilled_text
from service.pricing.money import ROUNDINGS, Money
from service.pricing.operations import OPERATIONS
from service.pricing.rate_card import Discount, Hourly, Minimum, Supplies, rate_card
from service.pricing.work import with_other_work

relaxed = settings(max_examples=120, suppress_health_check=[HealthCheck.too_slow], deadline=None)


def rounded_by_hand(exact: Fraction, mode: str) -> int:
    """A positive number of minor units, rounded by the definition of the mode, without decimal."""
    if mode == "up":
        return ceil(exact)
    if mode == "down":
        return floor(exact)
    below, rest = floor(exact), exact - floor(exact)
    if rest == Fraction(1, 2):
        return below + 1 if mode == "half_up" or below % 2 else below
    return below + (rest > Fraction(1, 2))


@st.composite
def bills(draw):
    """An estimate and the final bill of one job, with the card and what they were made of."""
    card, (before, after, steps) = draw(cards()), draw(rounds())
    others, waived = draw(other_work), draw(waivers)
    planned = with_other_work(work_from_plan(before, steps), others)
    done = with_other_work(work_from_rounds(before, after, steps), others)
    estimate = bill(card, planned, waivers=waived)
    return card, estimate, bill(card, done, waivers=waived), (before, after, steps)


@relaxed
@given(bills())
def test_the_sum_of_the_lines_is_the_total_to_the_minor_unit(made):
    card, *both, _ = made
    for one in both:
        quantum = card.currency.quantum
        units = [line.amount.amount / quantum for line in one.lines]
        assert all(unit == int(unit) for unit in units)
        assert sum(map(int, units)) == one.total.amount / quantum
        assert one.subtotal + one.supplies + one.discount == one.total
        assert one.total.amount >= 0


@relaxed
@given(bills())
def test_every_charged_line_is_quantity_times_unit_price_rounded_once(made):
    card, _, final, _ = made
    for line in final.lines:
        if line.kind != "work":
            assert line.amount == line.unit_price
            continue
        if line.free is not None:
            assert not line.amount
            continue
        exact = Fraction(line.quantity) * Fraction(line.unit_price.amount)
        units = rounded_by_hand(exact / Fraction(card.currency.quantum), card.rounding)
        assert line.amount.amount == units * card.currency.quantum


@relaxed
@given(bills())
def test_minimum_supplies_and_discount_are_what_their_rules_say(made):
    card, _, final, _ = made
    quantum = Fraction(card.currency.quantum)

    def share(whole, percent):
        exact = Fraction(whole) * Fraction(percent) / 100 / quantum
        return rounded_by_hand(exact, card.rounding) * quantum

    work = sum(Fraction(line.amount.amount) for line in final.lines if line.kind == "work")
    subtotal = work
    if card.minimum is not None and work:
        subtotal = max(work, Fraction(card.minimum.price.amount))
    supplies = Fraction(0)
    if card.supplies is not None:
        travel = sum(
            Fraction(line.amount.amount) for line in final.lines if line.operation == "callout"
        )
        supplies = share(work - travel, card.supplies.percent)
        if card.supplies.cap is not None:
            supplies = min(supplies, Fraction(card.supplies.cap.amount))
    discount = Fraction(0)
    if card.discount is not None and card.discount.percent is not None:
        discount = share(subtotal, card.discount.percent)
    elif card.discount is not None:
        discount = min(subtotal, Fraction(card.discount.amount.amount))
    assert Fraction(final.subtotal.amount) == subtotal
    assert Fraction(final.supplies.amount) == supplies
    assert Fraction(final.discount.amount) == -discount
    assert Fraction(final.total.amount) == subtotal + supplies - discount


@relaxed
@given(bills())
def test_no_operation_is_billed_twice_on_one_axle(made):
    for one in made[1:3]:
        seen = [
            (line.operation, position.axle) for line in one.lines for position in line.positions
        ]
        assert len(seen) == len(set(seen))
        for operation in {line.operation for line in one.lines if line.kind == "work"}:
            proofs = [
                item.finding
                for line in one.lines
                if line.operation == operation and OPERATIONS[operation].scope == "vehicle"
                for item in line.evidence
            ]
            assert len(proofs) == len(set(proofs))


@relaxed
@given(rounds())
def test_a_final_correction_rests_on_findings_that_were_not_conforming_and_now_are(made):
    before, after, steps = made
    verdict = {one.id: one.verdict for one in before}
    now = {one.subject: one.verdict for one in after}
    subject = {one.id: one.subject for one in before}
    named = {name for step in steps for name in step.because}
    for work in work_from_rounds(before, after, steps).works:
        if not OPERATIONS[work.operation].corrects:
            continue
        assert work.evidence
        for item in work.evidence:
            assert verdict[item.finding] != "conforming"
            assert verdict[item.finding] == "nonconforming" or item.finding in named
            assert now[subject[item.finding]] == "conforming"


@relaxed
@given(rounds())
def test_an_estimated_correction_rests_on_findings_that_are_not_conforming(made):
    before, _, steps = made
    verdict = {one.id: one.verdict for one in before}
    for work in work_from_plan(before, steps).works:
        if OPERATIONS[work.operation].corrects:
            assert work.evidence
            assert all(verdict[item.finding] != "conforming" for item in work.evidence)


@relaxed
@given(rounds())
def test_no_finding_that_was_outside_drops_out_in_silence(made):
    before, after, steps = made
    account = work_from_rounds(before, after, steps)
    told = {item.finding for work in account.works for item in work.evidence}
    told |= {name for one in account.unbilled for name in one.findings}
    assert {one.id for one in before if one.verdict == "nonconforming"} <= told
    assert all(unbilled_text(one) for one in account.unbilled)


@relaxed
@given(rounds(), st.randoms(use_true_random=False))
def test_the_order_of_the_findings_does_not_matter(made, random):
    before, after, _ = made
    first = work_from_rounds(before, after)
    random.shuffle(before)
    second = work_from_rounds(before, after)
    assert [(work.operation, work.axles, set(work.evidence)) for work in first.works] == [
        (work.operation, work.axles, set(work.evidence)) for work in second.works
    ]


@relaxed
@given(st.sets(st.integers(2, 9)), st.sets(st.integers(1, 9)))
@example({2, 3, 4}, set())
def test_cured_scrubs_are_laid_to_the_fewest_axles_that_explain_them(pairs, aimed):
    """Against every choice of axles there is."""
    scrubs = [finding("scrub", rear, reference_axle=rear - 1) for rear in sorted(pairs)]
    thrusts = [finding("thrust", axle) for axle in sorted(aimed)]
    account = work_from_rounds([*scrubs, *thrusts], conforming(*scrubs, *thrusts))
    billed = {work.axles[0] for work in account.works if work.operation == "aim_axle"}
    assert aimed <= billed
    assert all({rear - 1, rear} & billed for rear in pairs)
    fewest = next(
        count
        for count in range(10)
        for more in combinations(range(1, 10), count)
        if all({rear - 1, rear} & {*aimed, *more} for rear in pairs)
    )
    assert len(billed - aimed) == fewest


@relaxed
@given(bills())
def test_the_changes_add_up_to_the_difference_between_estimate_and_final_bill(made):
    _, estimate, final, _ = made
    told = compare(estimate, final)
    assert told.difference == final.total - estimate.total
    parts = [change.difference.amount for change in told.changes]
    assert sum(parts) == told.difference.amount
    assert all(change.text for change in told.changes)
    assert not compare(final, final).difference


@pytest.mark.parametrize("rounding", sorted(ROUNDINGS))
def test_the_lines_add_up_in_every_currency_there_is(rounding):
    """Times, percentages and a discount that leave a rest in most currencies."""
    before = [finding("toe", 1), finding("thrust", 2), finding("thrust", 3)]
    account = work_from_rounds(before, conforming(*before))
    for currency in CURRENCIES.values():

        def units(number, currency=currency):
            return Money(number * currency.quantum, currency)

        card = rate_card(
            currency,
            rounding,
            [entry("set_toe", Hourly(D("0.35"))), entry("aim_axle", Hourly(D("1.15"), units(977)))],
            labour_rate=units(8351),
            minimum=Minimum(units(12345)),
            supplies=Supplies(D("7.25"), units(10**6)),
            discount=Discount(percent=D("3.7")),
        )
        made = bill(card, account)
        counted = [int(line.amount.amount / currency.quantum) for line in made.lines]
        toe = rounded_by_hand(Fraction(8351 * 35, 100), rounding)
        aim = rounded_by_hand(Fraction(977 * 115, 100), rounding)
        supplies = rounded_by_hand(Fraction((toe + 2 * aim) * 725, 10000), rounding)
        discount = rounded_by_hand(Fraction(12345 * 37, 1000), rounding)
        top_up = 12345 - toe - 2 * aim
        assert counted == [aim, aim, toe, top_up, supplies, -discount]
        assert made.total == units(sum(counted))
