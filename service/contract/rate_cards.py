"""Rate cards on the wire: what a shop charges for each operation, and on the whole bill."""

import datetime
from enum import StrEnum
from typing import Annotated

from msgspec import Meta

from service.contract.base import ClosedStruct, OpenStruct

AmountText = Annotated[
    str,
    Meta(
        max_length=17,
        pattern=r"^(0|[1-9][0-9]{0,11})(\.[0-9]{1,4})?\Z",
        description="A decimal number in text, with a point, no sign, no exponent and no "
        "separators; as many decimals as the currency has, or fewer.",
        examples=["140.00", "9800"],
    ),
]
SignedAmountText = Annotated[
    str,
    Meta(
        max_length=40,
        pattern=r"^-?(0|[1-9][0-9]*)(\.[0-9]{1,4})?\Z",
        description="A decimal number in text with all decimals of the currency; a credit is "
        "below zero.",
        examples=["140.00", "-12.50", "9800"],
    ),
]
PercentText = Annotated[
    str,
    Meta(
        max_length=8,
        pattern=r"^(100(\.0{1,4})?|[1-9]?[0-9](\.[0-9]{1,4})?)\Z",
        description="A percentage from 0 to 100, a decimal number in text.",
        examples=["7.5", "10"],
    ),
]
QuantityText = Annotated[
    str,
    Meta(
        max_length=10,
        pattern=r"^(0|[1-9][0-9]{0,4})(\.[0-9]{1,4})?\Z",
        description="A quantity or a time in hours, a decimal number in text.",
        examples=["1", "0.75"],
    ),
]
CurrencyCode = Annotated[
    str,
    Meta(
        min_length=3,
        max_length=3,
        pattern=r"^[A-Z]{3}\Z",
        description="An active ISO 4217 code; it says how many decimals an amount has.",
        examples=["USD", "EUR", "JPY"],
    ),
]
OwnCode = Annotated[
    str,
    Meta(
        max_length=64,
        pattern=r"^[^\x00-\x1f\x7f]*\Z",
        description="A code of the shop's own books; passed through untouched.",
        examples=["ALN-200"],
    ),
]
OwnText = Annotated[
    str,
    Meta(
        max_length=200,
        pattern=r"^[^\x00-\x1f\x7f]*\Z",
        description="Words of the shop's own in place of the service's.",
    ),
]


class Price(ClosedStruct):
    """An amount that is charged, never below zero."""

    amount: AmountText
    currency: CurrencyCode


class Money(OpenStruct):
    """An amount of money; a discount is below zero."""

    amount: SignedAmountText
    currency: CurrencyCode


class RoundingMode(StrEnum):
    """How a line is rounded to the currency's minor unit.

    `half_up` takes a half away from zero, `half_even` to the even neighbour, `up` rounds away from
    zero and `down` towards it.
    """

    HALF_UP = "half_up"
    HALF_EVEN = "half_even"
    UP = "up"
    DOWN = "down"


class WorkOperation(StrEnum):
    """What is done to a vehicle or an axle.

    `inspect`: suspension, steering and tyres are looked at before anything is read.
    `measure`: the first set of readings, and the geometry of every axle.
    `extra_reading`: one more reading, because the first set left a finding undecided.
    `centre_axle`: an axle is moved sideways onto the centreline of the frame.
    `aim_axle`: an axle that does not steer is turned until it points where it should.
    `square_steer_axle`: one end of a steer axle is moved until it stands square to the frame.
    `match_wedges`: caster wedges are changed until both sides of a steer axle lean alike.
    `set_toe`: the tie rod of a steer axle is turned until its toe is right.
    `remeasure`: the readings are taken again after correcting.
    `road_test`: the vehicle is driven.
    `callout`: the way to the vehicle; its quantity can be a distance.
    """

    INSPECT = "inspect"
    MEASURE = "measure"
    EXTRA_READING = "extra_reading"
    CENTRE_AXLE = "centre_axle"
    AIM_AXLE = "aim_axle"
    SQUARE_STEER_AXLE = "square_steer_axle"
    MATCH_WEDGES = "match_wedges"
    SET_TOE = "set_toe"
    REMEASURE = "remeasure"
    ROAD_TEST = "road_test"
    CALLOUT = "callout"


class FlatRate(ClosedStruct, tag_field="kind", tag="flat"):
    """One price for the operation, on however many axles it is done."""

    price: Price


class AxleRate(ClosedStruct, tag_field="kind", tag="per_axle"):
    """A price for each axle."""

    price: Price


class HourlyRate(ClosedStruct, tag_field="kind", tag="hours"):
    """A stated time at a labour rate, for one axle or for the vehicle as a whole."""

    hours: QuantityText
    labour_rate: Price | None = None
    """Price of an hour; else the rate card's."""


class SteppedRate(ClosedStruct, tag_field="kind", tag="steps"):
    """A base price and a price for each step beyond what the base covers.

    It counts axles, or of a call-out its quantity. A step begun counts as whole.
    """

    base: Price
    step_price: Price
    included: QuantityText = "1"
    """How many the base covers."""
    step: QuantityText = "1"
    """How many make a step; more than 0."""


Rate = FlatRate | AxleRate | HourlyRate | SteppedRate


class RateEntry(ClosedStruct):
    """The price of one operation."""

    operation: WorkOperation
    rate: Rate
    included_with: Annotated[list[WorkOperation], Meta(max_length=11)] = []
    """Free where one of these is charged on the same bill: measuring, when a correction is."""
    code: OwnCode = ""
    tax_category: OwnCode = ""
    text: OwnText = ""


class MinimumCharge(ClosedStruct):
    """The least that charged work comes to, before supplies and discount."""

    price: Price
    code: OwnCode = ""
    tax_category: OwnCode = ""
    text: OwnText = ""


class ShopSupplies(ClosedStruct):
    """Supplies as a percentage of the charged work, the call-out left out."""

    percent: PercentText
    cap: Price | None = None
    """The most that they come to."""
    code: OwnCode = ""
    tax_category: OwnCode = ""
    text: OwnText = ""


class PercentDiscount(ClosedStruct, tag_field="kind", tag="percent"):
    """A percentage off the work and its minimum charge, not off supplies."""

    percent: PercentText
    code: OwnCode = ""
    tax_category: OwnCode = ""
    text: OwnText = ""


class AmountDiscount(ClosedStruct, tag_field="kind", tag="amount"):
    """An amount off the work and its minimum charge, and never more than these."""

    price: Price
    code: OwnCode = ""
    tax_category: OwnCode = ""
    text: OwnText = ""


Discount = PercentDiscount | AmountDiscount


class RateCard(ClosedStruct):
    """What a shop charges. All prices are in one currency, and tax is no part of it."""

    currency: CurrencyCode
    rounding: RoundingMode
    entries: Annotated[list[RateEntry], Meta(min_length=1, max_length=11)]
    """Each operation once; work without an entry is listed as not billed."""
    labour_rate: Price | None = None
    """Price of an hour, for operations priced by hours."""
    minimum_charge: MinimumCharge | None = None
    supplies: ShopSupplies | None = None
    discount: Discount | None = None
    valid_from: datetime.date | None = None
    """First day on which the card holds."""
    valid_to: datetime.date | None = None
    """Last day on which the card holds."""
