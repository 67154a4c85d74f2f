"""Turns a request for line items into what pricing takes, or refuses it with all its faults."""

from typing import NamedTuple, Protocol

from service.api.subjects import SI_OF
from service.contract import line_items as wire
from service.contract import rate_cards
from service.contract.estimates import EstimateUnit
from service.contract.problem_catalogue import RATE_CARD_UNUSABLE, WORK_NOT_BILLABLE, ProblemKind
from service.contract.problems import FieldError, ProblemError, field_error, pointer_to
from service.contract.vehicle import AdjusterEnds
from service.drawing.words import words_of
from service.geometry.wording import LENGTHS
from service.locale.catalogue import ENGLISH
from service.pricing.currencies import Currency, currency_of
from service.pricing.errors import PricingError, RateCardError
from service.pricing.lines import Waiver
from service.pricing.money import Money, money, read_amount, zero
from service.pricing.rate_card import (
    Discount,
    Entry,
    Flat,
    Hourly,
    Marks,
    Minimum,
    PerAxle,
    Rate,
    RateCard,
    Stepped,
    Supplies,
    rate_card,
)
from service.pricing.work import Finding, Step, Work

Steps = tuple[str | int, ...]

_MOST_IN_WORDS = 1e6


class SolvedRound(NamedTuple):
    """A solution as far as a bill needs it."""

    axles: tuple[int, ...]
    findings: list[Finding]
    steps: list[Step]


def round_of(solved: wire.SolvedRound, language: str = ENGLISH) -> SolvedRound:
    """Axles, findings and steps of a pasted solution, values in words of `language`."""
    return SolvedRound(
        tuple(axle.number for axle in solved.axles),
        [
            Finding(
                finding.id,
                finding.quantity.value,
                finding.axle,
                finding.verdict.value,
                _in_words(finding, language),
                finding.reference_axle,
            )
            for finding in solved.findings
        ],
        [
            Step(
                step.step,
                step.action.value,
                step.axle,
                tuple(step.because),
                _side(step),
            )
            for step in solved.plan
        ],
    )


def _in_words(finding: wire.SolvedFinding, language: str) -> str:
    """The value of a finding as the solution wrote it, else in words of the bill's own."""
    estimate, quantity = finding.estimate, finding.quantity.value
    if estimate.text and language == ENGLISH:
        return estimate.text
    angle = estimate.unit is EstimateUnit.DEGREE
    if angle == (quantity in LENGTHS) or abs(estimate.value) > _MOST_IN_WORDS:
        return f"{estimate.value:g} {estimate.unit.value}"  # no solution of ours
    words = words_of(language, "in" if angle else estimate.unit.value)
    return words.estimate(quantity, estimate.value * SI_OF[estimate.unit])


def _side(step: wire.SolvedStep) -> str | None:
    """The side that a step works on; a step that moves both ends names the one going forward."""
    if step.side is None or step.ends is AdjusterEnds.BOTH_ENDS:
        return None
    return step.side.value


def waivers_of(waivers: list[wire.Waiver]) -> list[Waiver]:
    """What is to be done at no charge."""
    return [Waiver(waiver.operation.value, waiver.reason.value, waiver.axle) for waiver in waivers]


def other_work_of(others: list[wire.OtherWork]) -> list[Work]:
    """What the shop did that no finding shows."""
    return [
        Work(other.operation.value, quantity=read_amount(other.quantity), text=other.text)
        for other in others
    ]


def rate_card_of(card: rate_cards.RateCard, *steps: str | int) -> RateCard:
    """A rate card that can price; `steps` lead to where it stands in the body.

    Raises ProblemError that names every fault found in it.
    """
    return _Reader(steps).card(card)


def discount_of(
    discount: rate_cards.Discount | None, currency: Currency, *steps: str | int
) -> Discount | None:
    """A discount given beside the rate card."""
    reader = _Reader(steps)
    read = reader.discount(discount, currency)
    reader.refuse()
    return read


def refused(
    error: PricingError, kind: ProblemKind = WORK_NOT_BILLABLE, *steps: str | int
) -> ProblemError:
    """The problem of what pricing refuses, its places below `steps` of the body."""
    errors = error.errors if isinstance(error, RateCardError) else (error,)
    return ProblemError.of_broken_rules([_field_error(kind, one, steps) for one in errors])


class _Reader:
    """Reads a rate card member by member and keeps every fault.

    A price that cannot be read counts as nothing until all else is read.
    """

    def __init__(self, top: Steps) -> None:
        self._top = top
        self._faults: list[FieldError] = []

    def refuse(self) -> None:
        """Raise the problem that the faults make, if there are any."""
        if self._faults:
            raise ProblemError.of_broken_rules(self._faults)

    def card(self, card: rate_cards.RateCard) -> RateCard:
        """The whole card; an unknown currency is told alone, since every price depends on it."""
        try:
            currency = currency_of(card.currency)
        except PricingError as error:
            raise refused(error, RATE_CARD_UNUSABLE, *self._top) from None
        entries = [self._entry(entry, currency, place) for place, entry in enumerate(card.entries)]
        parts = (
            self._price_if(card.labour_rate, currency, "labour_rate"),
            self._minimum(card.minimum_charge, currency),
            self._supplies(card.supplies, currency),
            self.discount(card.discount, currency),
        )
        try:
            made = rate_card(
                currency, card.rounding.value, entries, *parts, card.valid_from, card.valid_to
            )
            if not self._faults:
                return made
        except RateCardError as error:
            self._faults += [
                _field_error(RATE_CARD_UNUSABLE, one, self._top) for one in error.errors
            ]
        raise ProblemError.of_broken_rules(self._faults)

    def discount(self, discount: rate_cards.Discount | None, currency: Currency) -> Discount | None:
        """A percentage or an amount."""
        if discount is None:
            return None
        if isinstance(discount, rate_cards.PercentDiscount):
            return Discount(percent=read_amount(discount.percent), marks=_marks(discount))
        price = self._price(discount.price, currency, "discount", "price")
        return Discount(amount=price, marks=_marks(discount))

    def _entry(self, entry: rate_cards.RateEntry, currency: Currency, place: int) -> Entry:
        return Entry(
            entry.operation.value,
            self._rate(entry.rate, currency, "entries", place, "rate"),
            _marks(entry),
            tuple(other.value for other in entry.included_with),
        )

    def _rate(self, rate: rate_cards.Rate, currency: Currency, *at: str | int) -> Rate:
        if isinstance(rate, rate_cards.HourlyRate):
            labour = self._price_if(rate.labour_rate, currency, *at, "labour_rate")
            return Hourly(read_amount(rate.hours), labour)
        if isinstance(rate, rate_cards.SteppedRate):
            return Stepped(
                self._price(rate.base, currency, *at, "base"),
                self._price(rate.step_price, currency, *at, "step_price"),
                read_amount(rate.included),
                read_amount(rate.step),
            )
        kind = Flat if isinstance(rate, rate_cards.FlatRate) else PerAxle
        return kind(self._price(rate.price, currency, *at, "price"))

    def _minimum(
        self, minimum: rate_cards.MinimumCharge | None, currency: Currency
    ) -> Minimum | None:
        if minimum is None:
            return None
        price = self._price(minimum.price, currency, "minimum_charge", "price")
        return Minimum(price, _marks(minimum))

    def _supplies(
        self, supplies: rate_cards.ShopSupplies | None, currency: Currency
    ) -> Supplies | None:
        if supplies is None:
            return None
        cap = self._price_if(supplies.cap, currency, "supplies", "cap")
        return Supplies(read_amount(supplies.percent), cap, _marks(supplies))

    def _price_if(
        self, price: rate_cards.Price | None, currency: Currency, *at: str | int
    ) -> Money | None:
        return None if price is None else self._price(price, currency, *at)

    def _price(self, price: rate_cards.Price, currency: Currency, *at: str | int) -> Money:
        try:
            return money(price.amount, price.currency)
        except PricingError as error:
            fault = error.under(*at)
            self._faults.append(_field_error(RATE_CARD_UNUSABLE, fault, self._top))
            return zero(currency)


class _Marked(Protocol):
    code: str
    tax_category: str
    text: str


def _marks(marked: _Marked) -> Marks:
    return Marks(marked.code, marked.tax_category, marked.text)


def _field_error(kind: ProblemKind, error: PricingError, top: Steps) -> FieldError:
    return field_error(kind, pointer_to(*top, *error.path), f"{error.reason}.", error.hint)
