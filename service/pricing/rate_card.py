"""A shop's rate card: what each operation costs, and what is added to or taken off the whole.

A card is made of checked parts by `rate_card`; member names are the names on the wire, so that a
fault's path points at the member that is wrong.
"""

from collections.abc import Iterator, Sequence
from datetime import date
from decimal import Decimal
from typing import NamedTuple

from service.pricing.currencies import Currency
from service.pricing.errors import PricingError, RateCardError
from service.pricing.money import ROUNDINGS, Money
from service.pricing.operations import OPERATIONS

HUNDRED = Decimal(100)


class Flat(NamedTuple):
    """One price for the operation, on however many axles it is done."""

    price: Money


class PerAxle(NamedTuple):
    """A price for each axle that the operation is done on."""

    price: Money


class Hourly(NamedTuple):
    """A stated time, not a clocked one, at the card's labour rate or the operation's own.

    `hours` are for one axle, or for the whole vehicle where the operation is on the vehicle.
    """

    hours: Decimal
    labour_rate: Money | None = None


class Stepped(NamedTuple):
    """A base price that covers the first `included` units and a price for each further `step`.

    Units are axles, or for a call-out whatever its quantity counts; a step begun counts whole.
    """

    base: Money
    step_price: Money
    included: Decimal = Decimal(1)
    step: Decimal = Decimal(1)


Rate = Flat | PerAxle | Hourly | Stepped


class Marks(NamedTuple):
    """What the shop's own books need on a line; passed through untouched, never interpreted."""

    code: str = ""
    tax_category: str = ""
    text: str = ""


class Entry(NamedTuple):
    """The price of one operation; free where one of `included_with` is charged on the same bill.

    `included_with` may name operations that the card does not price: they are never charged.
    """

    operation: str
    rate: Rate
    marks: Marks = Marks()
    included_with: tuple[str, ...] = ()


class Minimum(NamedTuple):
    """The least that charged work comes to; a bill on which nothing is charged stays at nothing."""

    price: Money
    marks: Marks = Marks()


class Supplies(NamedTuple):
    """Shop supplies as a percentage of the charged work but the call-out, at most `cap`."""

    percent: Decimal
    cap: Money | None = None
    marks: Marks = Marks()


class Discount(NamedTuple):
    """A percentage of the work and its minimum charge, or an amount, never more than these."""

    percent: Decimal | None = None
    amount: Money | None = None
    marks: Marks = Marks()


class RateCard(NamedTuple):
    """A checked rate card; `entries` by operation."""

    currency: Currency
    rounding: str
    entries: dict[str, Entry]
    labour_rate: Money | None = None
    minimum: Minimum | None = None
    supplies: Supplies | None = None
    discount: Discount | None = None
    valid_from: date | None = None
    valid_to: date | None = None


def rate_card(
    currency: Currency,
    rounding: str,
    entries: Sequence[Entry],
    labour_rate: Money | None = None,
    minimum: Minimum | None = None,
    supplies: Supplies | None = None,
    discount: Discount | None = None,
    valid_from: date | None = None,
    valid_to: date | None = None,
) -> RateCard:
    """A rate card that can price; a RateCardError names every member that keeps it from that."""
    card = RateCard(
        currency,
        rounding,
        {entry.operation: entry for entry in entries},
        labour_rate,
        minimum,
        supplies,
        discount,
        valid_from,
        valid_to,
    )
    faults = [*_faults_of_card(card), *_faults_of_entries(card, entries)]
    if faults:
        raise RateCardError(faults)
    return card


def check_in_force(card: RateCard, day: date | None) -> None:
    """Refuse a day outside the card's dates, which are both inclusive, or no day where it has some.

    The day is always given: pricing has no clock, so that a bill can be worked out again.
    """
    first, last, path = card.valid_from, card.valid_to, ("date",)
    if first is None and last is None:
        return
    if day is None:
        raise PricingError(
            "The rate card has dates and the request has none", "Give the day of the work.", path
        )
    hint = "Send the rate card of that day."
    if first is not None and day < first:
        raise PricingError(f"The rate card holds from {first}, not on {day}", hint, path)
    if last is not None and day > last:
        raise PricingError(f"The rate card held until {last}, not on {day}", hint, path)


def check_discount(discount: Discount, currency: Currency) -> None:
    """Refuse a discount that is not one of a percentage up to 100 and a price in `currency`."""
    for fault in _faults_of_discount(discount, currency):
        raise fault


def _faults_of_card(card: RateCard) -> Iterator[PricingError]:
    currency = card.currency
    if card.rounding not in ROUNDINGS:
        modes = ", ".join(ROUNDINGS)
        yield PricingError(
            f"{card.rounding!r} is no rounding mode", f"Write one of {modes}.", ("rounding",)
        )
    if card.valid_from and card.valid_to and card.valid_to < card.valid_from:
        yield PricingError(
            f"{card.valid_to} lies before valid_from, {card.valid_from}",
            "Write the last day on which the card holds.",
            ("valid_to",),
        )
    yield from _faults_of_price(card.labour_rate, currency, "labour_rate")
    if card.minimum is not None:
        yield from _faults_of_price(card.minimum.price, currency, "minimum_charge", "price")
    if card.supplies is not None:
        yield from _faults_of_percent(card.supplies.percent, "supplies", "percent")
        yield from _faults_of_price(card.supplies.cap, currency, "supplies", "cap")
    if card.discount is not None:
        yield from _faults_of_discount(card.discount, currency)


def _faults_of_discount(discount: Discount, currency: Currency) -> Iterator[PricingError]:
    if (discount.percent is None) == (discount.amount is None):
        yield PricingError(
            "A discount is either a percentage or an amount", "Give one of them.", ("discount",)
        )
    if discount.percent is not None:
        yield from _faults_of_percent(discount.percent, "discount", "percent")
    yield from _faults_of_price(discount.amount, currency, "discount", "price")


def _faults_of_entries(card: RateCard, entries: Sequence[Entry]) -> Iterator[PricingError]:
    seen: set[str] = set()
    for number, entry in enumerate(entries):
        if entry.operation in seen:
            yield PricingError(
                f"{entry.operation} is priced twice",
                "Keep one entry for each operation.",
                ("entries", number, "operation"),
            )
        seen.add(entry.operation)
        for fault in (
            *_faults_of_rate(card, entry),
            *(_faults_of_inclusion(card, entry) if entry.included_with else ()),
        ):
            yield fault.under("entries", number)


def _faults_of_rate(card: RateCard, entry: Entry) -> Iterator[PricingError]:
    if entry.operation not in OPERATIONS:
        yield _no_operation(entry.operation, ("operation",))
    rate = entry.rate
    for name, value in zip(rate._fields, rate, strict=True):
        if isinstance(value, Money):
            yield from _faults_of_price(value, card.currency, "rate", name)
    if isinstance(rate, Hourly) and rate.labour_rate is None and card.labour_rate is None:
        yield PricingError(
            "A price by hours needs a labour rate, and neither it nor the card has one",
            "Give `labour_rate` here or on the card.",
            ("rate", "labour_rate"),
        )
    if isinstance(rate, Stepped) and rate.step <= 0:
        yield PricingError("A step of nothing never ends", "Write 1 or more.", ("rate", "step"))


def _faults_of_inclusion(card: RateCard, entry: Entry) -> Iterator[PricingError]:
    """An included operation may not include another: two could make each other free."""
    for index, other in enumerate(entry.included_with):
        path = ("included_with", index)
        if other == entry.operation:
            yield PricingError(f"{other} is included with itself", "Name another.", path)
        elif other not in OPERATIONS:
            yield _no_operation(other, path)
        elif other in card.entries and card.entries[other].included_with:
            yield PricingError(
                f"{other} is itself included with others", "Name what it is included with.", path
            )


def _no_operation(name: str, path: tuple[str | int, ...]) -> PricingError:
    hint = f"Write one of {', '.join(OPERATIONS)}."
    return PricingError(f"{name!r} is no operation", hint, path)


def _faults_of_price(
    price: Money | None, currency: Currency, *path: str | int
) -> Iterator[PricingError]:
    if price is None:
        return
    if price.currency != currency:
        yield PricingError(
            f"{price} is not in {currency.code} as the rate card is",
            f"Write every price in {currency.code}.",
            (*path, "currency"),
        )
    if price.amount < 0:
        yield PricingError(
            f"{price} is below zero", "Write it without the minus sign.", (*path, "amount")
        )


def _faults_of_percent(percent: Decimal, *path: str | int) -> Iterator[PricingError]:
    if not 0 <= percent <= HUNDRED:
        yield PricingError(f"{percent} % is not between 0 and 100 %", "Write 0 to 100.", path)
