"""Invented rate cards and findings that the tests of pricing share."""

from decimal import Decimal

from service.pricing.currencies import currency_of
from service.pricing.money import Money, money
from service.pricing.rate_card import Entry, Flat, Marks, PerAxle, Rate, RateCard, rate_card
from service.pricing.work import Finding

D = Decimal


def finding(
    quantity: str,
    axle: int,
    verdict: str = "nonconforming",
    text: str = "",
    reference_axle: int | None = None,
) -> Finding:
    """A finding whose id says what it is of."""
    return Finding(f"{quantity}-{axle}", quantity, axle, verdict, text, reference_axle)


def conforming(*findings: Finding) -> list[Finding]:
    """The same findings as the round after would have them if all were cured."""
    return [one._replace(verdict="conforming", text="0") for one in findings]


def usd(text: str) -> Money:
    return money(text, "USD")


def entry(operation: str, rate: Rate, *included_with: str) -> Entry:
    """An entry with a code and tax category made from the operation's name."""
    return Entry(operation, rate, Marks(f"C-{operation}", "labour"), tuple(included_with))


def dollar_card(**more: object) -> RateCard:
    """Everything a shop needs in US dollars, most of it flat."""
    corrections = ("centre_axle", "aim_axle", "square_steer_axle", "match_wedges", "set_toe")
    return rate_card(
        currency_of("USD"),
        "half_up",
        [
            entry("measure", Flat(usd("95.00")), *corrections),
            entry("centre_axle", PerAxle(usd("110.00"))),
            entry("aim_axle", PerAxle(usd("140.00"))),
            entry("square_steer_axle", Flat(usd("120.00"))),
            entry("match_wedges", Flat(usd("80.00"))),
            entry("set_toe", Flat(usd("65.00"))),
            entry("remeasure", Flat(usd("45.00"))),
        ],
        **more,  # type: ignore[arg-type]
    )
