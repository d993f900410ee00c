"""Currencies: codes and decimals of ISO 4217, as the standard's own list has them."""

from decimal import Decimal

import pytest

from geartrack.currencies import decimals, smallest
from geartrack.errors import InputError


@pytest.mark.parametrize(
    ("code", "places"),
    # ISO 4217 list one, minor units (from memory).
    [("USD", 2), ("GBP", 2), ("EUR", 2), ("SEK", 2), ("JPY", 0), ("ISK", 0), ("KWD", 3), ("TND", 3)],
)
def test_decimals(code, places):
    assert decimals(code) == places
    assert smallest(code) == Decimal(10) ** -places


@pytest.mark.parametrize(
    ("code", "said"),
    [
        ("ABC", "'ABC' is no currency of ISO 4217; three capitals, such as USD, GBP or EUR"),
        ("usd", "'usd' is no currency of ISO 4217; was USD meant?"),
        ("$", "'$' is no currency"),
        ("", "'' is no currency"),
        ("XAU", "'XAU' (Gold) is nothing to pay in; such as USD"),
    ],
)
def test_no_currency(code, said):
    with pytest.raises(InputError) as refused:
        decimals(code)
    assert str(refused.value).startswith(said)
