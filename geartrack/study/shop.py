"""A job's [shop] table as the quote takes it, every figure with where it was given."""

from __future__ import annotations

from geartrack.errors import refuse
from geartrack.job import Amount, Job, from_other_file, given, locate
from geartrack.quote import Own, Rates, Sublet, Three, fixed


def rates_of(job: Job) -> Rates:
    """A job's shop figures as the quote takes them; InputError where its currency is not its shop file's."""
    shop = job.shop
    if "currency" in shop.model_fields_set and shop.rate is not None:
        _one_currency(job)
    terms = given(shop.terms)
    return Rates(
        name=shop.name,
        currency=shop.currency,
        rate=_own(job, "rate", shop.rate),
        consumables=_own(job, "consumables", shop.consumables),
        crack_check_fee=_own(job, "crack_check_fee", shop.crack_check_fee),
        minimum_hours=_own(job, "minimum_hours", shop.minimum_hours),
        removal_g_min=_own(job, "removal_g_min", shop.removal_g_min),
        hours={key: Own(_three(value), _origin(job, f"hours.{key}")) for key, value in given(shop.hours).items()},
        sublets=tuple(Sublet(s.name, _three(s.fee), s.when, _origin(job, "sublets")) for s in shop.sublets),
        tax_percent=shop.tax_percent,
        tax_name=shop.tax_name,
        round_to=shop.round_to,
        valid_days=None if shop.valid_days is None else int(shop.valid_days),
        arrives=shop.arrives,
        if_found=given(shop.if_found),
        terms={key: text for key, text in terms.items() if key != "more"},
        more_terms=terms.get("more", ()),
    )


def _one_currency(job: Job) -> None:
    if from_other_file(job, "shop.rate") and not from_other_file(job, "shop.currency"):
        what = f"{job.shop.currency}, but the rate stands in the shop file, in its currency"
        raise refuse(locate(job, "shop.currency"), what, "the currency in the shop file, or a rate of this job's own")


def _own(job: Job, key: str, value: Amount | None) -> Own | None:
    return None if value is None else Own(_three(value), _origin(job, key))


def _three(value: Amount) -> Three:
    return Three(*value) if isinstance(value, tuple) else fixed(value)


def _origin(job: Job, key: str) -> str:
    return "shop file" if from_other_file(job, f"shop.{key}") else "typed"
