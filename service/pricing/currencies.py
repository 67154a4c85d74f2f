"""The currencies money can be in, and how many decimals each of them has.

Source: ISO 4217 list one ("current currency and funds code list"), as its maintenance agency
published it on 2026-01-01. Codes that the list gives no minor unit (metals, special drawing
rights, the test code) are no money that a bill can be paid in, and are refused by name.
"""

from decimal import Decimal
from typing import NamedTuple

from service.pricing.errors import PricingError

PUBLISHED = "2026-01-01"

_CODES_BY_MINOR_UNITS = {
    0: "BIF CLP DJF GNF ISK JPY KMF KRW PYG RWF UGX UYI VND VUV XAF XOF XPF",
    2: "AED AFN ALL AMD AOA ARS AUD AWG AZN BAM BBD BDT BMD BND BOB BOV BRL BSD BTN BWP BYN BZD "
    "CAD CDF CHE CHF CHW CNY COP COU CRC CUP CVE CZK DKK DOP DZD EGP ERN ETB EUR FJD FKP GBP "
    "GEL GHS GIP GMD GTQ GYD HKD HNL HTG HUF IDR ILS INR IRR JMD KES KGS KHR KPW KYD KZT LAK "
    "LBP LKR LRD LSL MAD MDL MGA MKD MMK MNT MOP MRU MUR MVR MWK MXN MXV MYR MZN NAD NGN NIO "
    "NOK NPR NZD PAB PEN PGK PHP PKR PLN QAR RON RSD RUB SAR SBD SCR SDG SEK SGD SHP SLE SOS "
    "SRD SSP STN SVC SYP SZL THB TJS TMT TOP TRY TTD TWD TZS UAH USD USN UYU UZS VED VES WST "
    "XAD XCD XCG YER ZAR ZMW ZWG",
    3: "BHD IQD JOD KWD LYD OMR TND",
    4: "CLF UYW",
}
WITHOUT_MINOR_UNITS = frozenset(
    {
        *("XAG", "XAU", "XPD", "XPT"),  # metals
        *("XBA", "XBB", "XBC", "XBD"),  # bond market units
        *("XDR", "XSU", "XUA"),  # units of account between states
        *("XTS", "XXX"),  # for testing; no currency
    }
)


class Currency(NamedTuple):
    """An ISO 4217 currency; `quantum` is its smallest coin of account, 0.01 for most."""

    code: str
    minor_units: int
    quantum: Decimal


CURRENCIES: dict[str, Currency] = {
    code: Currency(code, digits, Decimal(1).scaleb(-digits))
    for digits, codes in _CODES_BY_MINOR_UNITS.items()
    for code in codes.split()
}


def currency_of(code: str) -> Currency:
    """The currency of an ISO 4217 code; a PricingError says why a code is none."""
    found = CURRENCIES.get(code)
    if found is not None:
        return found
    path = ("currency",)
    if code in WITHOUT_MINOR_UNITS:
        raise PricingError(
            f"{code} has no minor unit in ISO 4217, so no bill can be paid in it",
            "Write the currency that the bill is paid in, such as USD.",
            path,
        )
    if code.upper() in CURRENCIES:
        raise PricingError(f"{code!r} is not in capitals", f"Write {code.upper()}.", path)
    raise PricingError(
        f"{code[:40]!r} is no active ISO 4217 currency code",
        "Write three capitals such as USD or EUR.",
        path,
    )
