"""Currencies of ISO 4217: is a code one of them, and how many decimals its sums have."""

from __future__ import annotations

from decimal import Decimal
from functools import cache

from geartrack.errors import refuse


@cache
def decimals(code: str) -> int:
    """Decimals of a currency's smallest unit; InputError for a code that no money is counted in.

    >>> decimals("GBP"), decimals("JPY"), decimals("KWD")
    (2, 0, 3)
    """
    from iso4217 import Currency

    try:
        found = Currency(code)
    except ValueError:
        raise refuse("", f"{code[:20]!r} is no currency of ISO 4217", _meant(code)) from None
    if found.exponent is None:
        raise refuse("", f"{code!r} ({found.currency_name}) is nothing to pay in", "such as USD, GBP or EUR")
    return int(found.exponent)


def smallest(code: str) -> Decimal:
    """The smallest sum of a currency, in that currency.

    >>> smallest("EUR"), smallest("JPY")
    (Decimal('0.01'), Decimal('1'))
    """
    return Decimal(1).scaleb(-decimals(code))


def _meant(code: str) -> str:
    from iso4217 import Currency

    known = {currency.code for currency in Currency}
    return f"was {code.upper()} meant?" if code.upper() in known else "three capitals, such as USD, GBP or EUR"
