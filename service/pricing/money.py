"""Decimal money: read strictly, added exactly, rounded only where a rounding mode is named."""

import re
from decimal import (
    ROUND_DOWN,
    ROUND_HALF_EVEN,
    ROUND_HALF_UP,
    ROUND_UP,
    Context,
    Decimal,
    DivisionByZero,
    Inexact,
    InvalidOperation,
    Overflow,
)
from functools import lru_cache
from typing import Any, ClassVar

from service.pricing.currencies import Currency, currency_of
from service.pricing.errors import PricingError

ROUNDINGS = {
    "half_up": ROUND_HALF_UP,
    "half_even": ROUND_HALF_EVEN,
    "up": ROUND_UP,
    "down": ROUND_DOWN,
}
"""The rounding modes by name; `up` is away from zero and `down` towards it, so a credit mirrors
the charge it takes back."""

_TRAPS = [InvalidOperation, DivisionByZero, Overflow]
# Inexact is trapped as well: a sum or product that would lose a digit raises instead.
EXACT = Context(prec=60, traps=[*_TRAPS, Inexact])
_ROUNDING = Context(prec=60, traps=_TRAPS)

MAX_WHOLE_DIGITS = 12
MAX_DECIMALS = 4
_NUMBER = re.compile(r"(-?)(0|[1-9][0-9]*)(?:\.([0-9]+))?", re.ASCII)


@lru_cache(maxsize=4096)
def read_decimal(text: str) -> Decimal:
    """The decimal that a text such as `-12.50` writes: no exponent, no sign but minus, no blanks.

    At most 12 digits before the point and 4 after it.
    """
    found = _NUMBER.fullmatch(text)
    if found is None:
        raise PricingError(
            f"{text[:40]!r} is no decimal number",
            "Write digits with at most one point, such as 1250.00, without exponent, blanks or "
            "thousands separators.",
        )
    whole, decimals = found[2], found[3] or ""
    if len(whole) > MAX_WHOLE_DIGITS or len(decimals) > MAX_DECIMALS:
        raise PricingError(
            f"{text[:40]!r} has too many digits",
            f"Write at most {MAX_WHOLE_DIGITS} before the point and {MAX_DECIMALS} after it.",
        )
    return Decimal(text)


def read_amount(text: str) -> Decimal:
    """A decimal that is not below zero, as prices, hours, quantities and percentages are."""
    amount = read_decimal(text)
    if amount.is_signed():
        raise PricingError(f"{text!r} is below zero", "Write it without the minus sign.")
    return amount


class Money:
    """An amount in one currency, always a whole number of the currency's minor units.

    Adding two currencies, or making money of a float, is a TypeError or a PricingError, never a
    number.
    """

    __slots__ = ("amount", "currency")

    amount: Decimal
    currency: Currency
    __match_args__: ClassVar[tuple[str, str]] = ("amount", "currency")

    def __init__(self, amount: Decimal, currency: Currency) -> None:
        """`amount` is a finite multiple of `currency.quantum`; a finer one is a PricingError."""
        if type(amount) is not Decimal:
            raise TypeError(f"money is made of a Decimal, not of {type(amount).__name__}")
        if not amount.is_finite():
            raise PricingError(f"{amount} is no amount of money", "Give a finite number.")
        whole = amount.quantize(currency.quantum, context=_ROUNDING)
        if whole != amount:
            raise _too_fine(amount, currency)
        object.__setattr__(self, "amount", whole if whole else whole.copy_abs())
        object.__setattr__(self, "currency", currency)

    def __setattr__(self, name: str, value: object) -> None:
        raise AttributeError("money does not change; make another")

    def __add__(self, other: "Money") -> "Money":
        if not isinstance(other, Money):
            return NotImplemented
        if other.currency != self.currency:
            raise _mixed(self.currency, other.currency)
        return _made(EXACT.add(self.amount, other.amount), self.currency)

    def __sub__(self, other: "Money") -> "Money":
        if not isinstance(other, Money):
            return NotImplemented
        return self + -other

    def __neg__(self) -> "Money":
        # Copying the sign of a zero would write -0.00 on a bill.
        return self if not self.amount else _made(self.amount.copy_negate(), self.currency)

    def __bool__(self) -> bool:
        return bool(self.amount)

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, Money):
            return NotImplemented
        return self.amount == other.amount and self.currency == other.currency

    def __hash__(self) -> int:
        return hash((self.amount, self.currency.code))

    def __str__(self) -> str:
        return f"{self.amount:f} {self.currency.code}"

    def __repr__(self) -> str:
        return f"Money({self.amount:f} {self.currency.code})"

    def __reduce__(self) -> tuple[Any, ...]:
        return (money, (f"{self.amount:f}", self.currency.code))

    @property
    def text(self) -> str:
        """The amount with all decimals of its currency and no currency: `120.00`, `1200`."""
        return f"{self.amount:f}"


# The slots themselves: a bill makes dozens, and object.__setattr__ looks each up by name.
_new = object.__new__
_set_amount = Money.__dict__["amount"].__set__
_set_currency = Money.__dict__["currency"].__set__


def _made(amount: Decimal, currency: Currency) -> Money:
    """Money of an amount that is known to be whole already."""
    made = _new(Money)
    _set_amount(made, amount)
    _set_currency(made, currency)
    return made


def _too_fine(amount: Decimal, currency: Currency) -> PricingError:
    digits = currency.minor_units
    hint = f"Write at most {digits} decimals." if digits else "Write it without decimals."
    reason = f"{amount:f} is finer than the minor unit of {currency.code}"
    return PricingError(reason, hint, ("amount",))


def _mixed(one: Currency, other: Currency) -> PricingError:
    reason = f"{other.code} cannot be added to {one.code}"
    return PricingError(reason, "Use one currency in one bill.", ("currency",))


@lru_cache(maxsize=4096)
def money(text: str, code: str) -> Money:
    """Money of a decimal text and an ISO 4217 code."""
    currency = currency_of(code)
    try:
        return Money(read_decimal(text), currency)
    except PricingError as error:
        raise PricingError(error.reason, error.hint, ("amount",)) from None


@lru_cache(maxsize=512)
def zero(currency: Currency) -> Money:
    """No money, with the decimals of its currency."""
    return Money(Decimal(0), currency)


def rounded(exact: Decimal, currency: Currency, rounding: str) -> Money:
    """The money nearest to an exact amount by one of the ROUNDINGS."""
    amount = exact.quantize(currency.quantum, rounding=ROUNDINGS[rounding], context=_ROUNDING)
    return _made(amount if amount else amount.copy_abs(), currency)


def total(parts: "list[Money] | tuple[Money, ...]", currency: Currency) -> Money:
    """The exact sum of money of one currency; of nothing it is zero."""
    amount = zero(currency).amount
    add = EXACT.add
    for part in parts:
        # Nearly always one object: comparing two takes as long as the sum.
        if part.currency is not currency and part.currency != currency:
            raise _mixed(currency, part.currency)
        amount = add(amount, part.amount)
    return _made(amount, currency)
