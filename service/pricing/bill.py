"""A whole bill: the lines of work, what is added to and taken off them, and the total.

Every line is rounded once, by the card's mode, and the total is the sum of the lines as they
stand, so that no reader can add them up to anything else. In order:

1. the work, a line for each operation or axle;
2. the minimum charge tops charged work up to the minimum; a bill of free work stays at nothing;
3. supplies are a percentage of the charged work, without the call-out and the top-up, into which
   no supplies went;
4. the discount is a percentage of work and top-up, or an amount that cannot exceed these. It is
   taken after the minimum, so it is worth what it says, and not from the supplies.

There is no tax here: tax categories pass through.
"""

from collections.abc import Iterable
from datetime import date
from decimal import Decimal
from typing import NamedTuple

from service.locale.catalogue import ENGLISH, Catalogue, catalogue
from service.pricing.lines import Line, Waiver, work_lines
from service.pricing.money import EXACT, Money, rounded, total, zero
from service.pricing.rate_card import Discount, Marks, RateCard, check_discount, check_in_force
from service.pricing.work import ONE, Account, Unbilled

PERCENT = Decimal("0.01")


class Bill(NamedTuple):
    """The lines and what they come to; `subtotal` is work and minimum charge.

    `discount` is below zero. subtotal + supplies + discount = total = the sum of the lines.
    """

    lines: tuple[Line, ...]
    subtotal: Money
    supplies: Money
    discount: Money
    total: Money
    rounding: str
    unbilled: tuple[Unbilled, ...]
    language: str = ENGLISH


def bill(
    card: RateCard,
    account: Account,
    *,
    waivers: Iterable[Waiver] = (),
    discount: Discount | None = None,
    day: date | None = None,
    language: str = ENGLISH,
) -> Bill:
    """Price an account of work; `discount` takes the place of the card's own.

    Texts that are not the shop's own are in `language`, one of the catalogues'.

    A PricingError says what keeps the card from being used: a day outside its dates, a discount in
    another currency, a waiver of nothing.
    """
    check_in_force(card, day)
    if discount is not None:
        check_discount(discount, card.currency)
    texts = catalogue(language)
    lines, unpriced = work_lines(card, account.works, waivers, language)
    charged = total([line.amount for line in lines], card.currency)
    subtotal = charged + _add_minimum(card, charged, lines, texts)
    supplies = _add_supplies(card, lines, texts)
    taken = _add_discount(card, discount or card.discount, subtotal, lines, texts)
    return Bill(
        tuple(lines),
        subtotal,
        supplies,
        taken,
        subtotal + supplies + taken,
        card.rounding,
        (*account.unbilled, *unpriced),
        language,
    )


def _add_minimum(card: RateCard, charged: Money, lines: list[Line], texts: Catalogue) -> Money:
    minimum = card.minimum
    if minimum is None or not charged or charged.amount >= minimum.price.amount:
        return zero(card.currency)
    top_up = minimum.price - charged
    text = minimum.marks.text or texts.say("minimum")
    lines.append(_sum_line("minimum", minimum.marks, text, top_up))
    return top_up


def _add_supplies(card: RateCard, lines: list[Line], texts: Catalogue) -> Money:
    supplies = card.supplies
    if supplies is None:
        return zero(card.currency)
    base = [line.amount for line in lines if line.kind == "work" and line.operation != "callout"]
    amount = _share(card, total(base, card.currency), supplies.percent)
    message, cap = "supplies", supplies.cap
    if cap is not None and amount.amount > cap.amount:
        amount, message = cap, "supplies.capped"
    if amount:
        text = supplies.marks.text or texts.say(message, percent=_plain(supplies.percent), cap=cap)
        lines.append(_sum_line("supplies", supplies.marks, text, amount))
    return amount


def _add_discount(
    card: RateCard,
    discount: Discount | None,
    subtotal: Money,
    lines: list[Line],
    texts: Catalogue,
) -> Money:
    """The discount is worked out as a positive amount, so each mode rounds it like a charge."""
    if discount is None:
        return zero(card.currency)
    if discount.percent is not None:
        amount = _share(card, subtotal, discount.percent)
        text = texts.say("discount.percent", percent=_plain(discount.percent))
    else:
        assert discount.amount is not None, "a checked discount has one of the two"
        amount, text = discount.amount, texts.say("discount.amount")
        if amount.amount > subtotal.amount:
            amount, text = subtotal, texts.say("discount.limited")
    if amount:
        text = discount.marks.text or text
        lines.append(_sum_line("discount", discount.marks, text, -amount))
    return -amount


def _share(card: RateCard, whole: Money, percent: Decimal) -> Money:
    exact = EXACT.multiply(EXACT.multiply(whole.amount, percent), PERCENT)
    return rounded(exact, card.currency, card.rounding)


def _sum_line(kind: str, marks: Marks, text: str, amount: Money) -> Line:
    """A line that is no work: once its amount."""
    code, tax = marks.code, marks.tax_category
    return Line(kind, None, code, text, (), ONE, "job", amount, amount, (), (), None, tax)


def _plain(number: Decimal) -> str:
    """A decimal without the zeros that say nothing: 7.50 as 7.5, 10 as 10."""
    text = f"{number:f}"
    return text.rstrip("0").rstrip(".") if "." in text else text
