"""Sums of money as shops write them, kept in the minor units of a currency.

Sources
-------
[1] ISO 4217, currency codes and their minor units; the list is from memory.
"""

import re
from typing import Final

from ontology.quantities import Unreadable, read_number

_TWO_DECIMALS: Final = """
AED AFN ALL AMD AOA ARS AUD AWG AZN BAM BBD BDT BMD BND BOB BRL BSD BTN BWP BYN BZD CAD CDF CHF CNY COP CRC CUP CVE
CZK DKK DOP DZD EGP ERN ETB EUR FJD FKP GBP GEL GHS GIP GMD GTQ GYD HKD HNL HTG HUF IDR ILS INR IRR JMD KES KGS KHR
KPW KYD KZT LAK LBP LKR LRD LSL MAD MDL MGA MKD MMK MNT MOP MUR MVR MWK MXN MYR MZN NAD NGN NIO NOK NPR NZD PAB PEN
PGK PHP PKR PLN QAR RON RSD RUB SAR SBD SCR SDG SEK SGD SHP SLE SOS SRD SSP STN SVC SYP SZL THB TJS TMT TOP TRY TTD
TWD TZS UAH USD UYU UZS VES WST XCD YER ZAR ZMW
"""
_NO_DECIMALS: Final = "BIF CLP DJF GNF ISK JPY KMF KRW PYG RWF UGX VND VUV XAF XOF XPF"
_THREE_DECIMALS: Final = "BHD IQD JOD KWD LYD OMR TND"

MINOR_DIGITS: Final = {
    currency: digits
    for digits, names in ((2, _TWO_DECIMALS), (0, _NO_DECIMALS), (3, _THREE_DECIMALS))
    for currency in names.split()
}
"""The currencies that are read, with the number of decimals of each (ISO 4217)."""

_THOUSANDS: Final = re.compile(r"[+-]?\s*[1-9][0-9]{0,2}[.,][0-9]{3}")


def read_money(text: str, currency: str, *, comma: bool = False) -> int:
    """A sum in the currency's minor units.

    Raises
    ------
    Unreadable
        No number, an unknown currency, more decimals than the currency has, or a mark before three digits that may
        stand for thousands: nobody writes 1.400 for 1.40 euros.

    >>> read_money("120.50", "EUR")
    12050
    """
    if currency not in MINOR_DIGITS:
        raise Unreadable(
            f"{currency!r} is no currency known here", reason="unknown-unit", fix="use its three ISO 4217 letters"
        )
    minor = read_number(text, comma=comma) * 10 ** MINOR_DIGITS[currency]
    if minor.denominator != 1:
        raise Unreadable(
            f"{text!r} has more decimals than {currency} has",
            reason="not-whole",
            fix=f"round to {MINOR_DIGITS[currency]} decimals",
        )
    if MINOR_DIGITS[currency] != 3 and _THOUSANDS.fullmatch(text.strip()):
        raise Unreadable(
            f"{text!r} may mean thousands or decimals",
            reason="ambiguous",
            fix=f"write thousands without any mark, and {MINOR_DIGITS[currency]} decimals or none",
        )
    return int(minor)


def money_shown(minor: int, currency: str, *, thousands: str = "") -> str:
    """A sum with its currency, `thousands` between every three digits of the whole.

    >>> money_shown(12050, "EUR"), money_shown(-5, "EUR"), money_shown(148050, "JPY", thousands=",")
    ('120.50 EUR', '-0.05 EUR', '148,050 JPY')
    """
    return f"{amount_shown(minor, currency, thousands=thousands)} {currency}".rstrip()


def amount_shown(minor: int, currency: str, *, thousands: str = "") -> str:
    """The number of a sum without its currency.

    >>> amount_shown(12050, "EUR"), amount_shown(12050, "JPY"), amount_shown(1234567, "KWD", thousands=",")
    ('120.50', '12050', '1,234.567')
    """
    digits = MINOR_DIGITS.get(currency, 2)
    whole, rest = divmod(abs(minor), 10**digits)
    number = f"{whole:,}".replace(",", thousands)
    decimals = f".{rest:0{digits}d}" if digits else ""
    return f"{'-' if minor < 0 else ''}{number}{decimals}"
