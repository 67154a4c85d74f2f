"""Random rate cards of every currency and rounding mode, and random findings and plans."""

from decimal import Decimal

from hypothesis import strategies as st

from service.pricing.currencies import CURRENCIES
from service.pricing.lines import Waiver
from service.pricing.money import ROUNDINGS, Money
from service.pricing.operations import CORRECTION_OF, OPERATIONS, PAIR_QUANTITIES, PLAN_ACTIONS
from service.pricing.rate_card import (
    Discount,
    Entry,
    Flat,
    Hourly,
    Marks,
    Minimum,
    PerAxle,
    Stepped,
    Supplies,
    rate_card,
)
from service.pricing.work import OTHER_WORK, Finding, Step, Work

VERDICTS = st.sampled_from(["conforming", "nonconforming", "undetermined"])
QUANTITIES = [*sorted(CORRECTION_OF), "camber_left"]
PERCENT = st.decimals(0, 100, places=4)
SMALL = st.decimals(0, 40, places=2)


def made(kind, *positional, **named):
    """A named tuple of these fields and no others; `builds` would invent the optional ones."""

    def make(*values, **fields):
        return kind(*values, **fields)

    return st.builds(make, *positional, **named)


def prices(currency, most=10**7):
    """Prices from nothing to many, in whole minor units."""
    return st.integers(0, most).map(lambda units: Money(units * currency.quantum, currency))


def rates(currency):
    price = prices(currency)
    return st.one_of(
        made(Flat, price),
        made(PerAxle, price),
        made(Hourly, SMALL, st.none() | price),
        made(Stepped, price, price, SMALL, st.decimals("0.01", 10, places=2)),
    )


@st.composite
def cards(draw):
    """A card that prices some of the operations in any way there is."""
    currency = CURRENCIES[draw(st.sampled_from(sorted(CURRENCIES)))]
    price, rate = prices(currency), rates(currency)
    operations = draw(st.sets(st.sampled_from(list(OPERATIONS)), min_size=1))
    free = draw(st.sets(st.sampled_from(sorted(operations))))
    charged = tuple(sorted(operations - free))
    return rate_card(
        currency,
        draw(st.sampled_from(sorted(ROUNDINGS))),
        [
            Entry(name, draw(rate), Marks(name), charged if name in free else ())
            for name in sorted(operations)
        ],
        labour_rate=draw(price),
        minimum=draw(st.none() | made(Minimum, price)),
        supplies=draw(st.none() | made(Supplies, PERCENT, st.none() | price)),
        discount=draw(st.none() | made(Discount, percent=PERCENT) | made(Discount, amount=price)),
    )


@st.composite
def rounds(draw):
    """Findings before, findings after and steps, in no order and of no sense."""
    subjects = draw(
        st.lists(st.tuples(st.sampled_from(QUANTITIES), st.integers(1, 5)), unique=True)
    )
    before = [
        Finding(f"b{number}", quantity, axle, draw(VERDICTS), "b", _reference(quantity, axle))
        for number, (quantity, axle) in enumerate(subjects)
    ]
    after = [
        one._replace(id=f"a{number}", verdict=draw(VERDICTS), text="a")
        for number, one in enumerate(before)
        if draw(st.integers(0, 5))
    ]
    because = st.lists(st.sampled_from([one.id for one in before]), unique=True, max_size=4)
    steps = [
        Step(number, draw(st.sampled_from(sorted(PLAN_ACTIONS))), draw(st.integers(1, 5)), names)
        for number in range(draw(st.integers(0, 6)))
        for names in [tuple(draw(because)) if before else ()]
    ]
    return before, draw(st.permutations(after)), steps


def _reference(quantity, axle):
    return axle - 1 if quantity in PAIR_QUANTITIES and axle > 1 else None


waivers = st.lists(
    st.sampled_from(sorted(OPERATIONS)).flatmap(
        lambda name: made(
            Waiver,
            st.just(name),
            st.sampled_from(["warranty", "comeback", "goodwill"]),
            st.none() | st.integers(1, 5) if OPERATIONS[name].scope == "axle" else st.none(),
        )
    ),
    max_size=4,
)
other_work = st.lists(
    made(
        Work,
        st.sampled_from(OTHER_WORK),
        quantity=st.decimals("0.01", 500, places=2).map(Decimal),
    ),
    unique_by=lambda work: work.operation,
    max_size=3,
)
