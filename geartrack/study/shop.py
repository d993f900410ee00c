"""A job's [shop] table as the quote takes it, every figure with where it was given."""

from __future__ import annotations

from decimal import Decimal

from geartrack.job import Job
from geartrack.quote import Own, Rates, fixed


def rates_of(job: Job) -> Rates:
    """A job's shop rates as the quote takes them."""
    shop = job.shop

    def own(value: Decimal | None) -> Own | None:
        return None if value is None else Own(fixed(value), "typed")

    return Rates(
        name=shop.name,
        currency=shop.currency,
        rate=own(shop.rate),
        consumables=own(shop.consumables),
        crack_check_fee=own(shop.crack_check_fee),
        minimum_hours=own(shop.minimum_hours),
        tax_percent=shop.tax_percent,
    )
