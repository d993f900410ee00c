"""The one facade: check a job, compare ratios, list a gear set's dimensions, price the work."""

from dataclasses import replace

from geartrack.job import Shop
from geartrack.quote import Quote, Rates, Work, quote
from geartrack.study.answer import Answer, RatioTable
from geartrack.study.check import check, with_teeth
from geartrack.study.document import as_document
from geartrack.study.document_passes import document_of_passes
from geartrack.study.document_setup import document_of_setup
from geartrack.study.gears import GearSheet, gear_dimensions
from geartrack.study.passes import Pass, PassPlan, pass_plan
from geartrack.study.ratios import compare_ratios, pairs_between, typed_pairs
from geartrack.verdict import Code

__all__ = [
    "Answer",
    "GearSheet",
    "Pass",
    "PassPlan",
    "RatioTable",
    "as_document",
    "check",
    "compare_ratios",
    "document_of_passes",
    "document_of_setup",
    "gear_dimensions",
    "pairs_between",
    "pass_plan",
    "quote_for",
    "rates_of",
    "typed_pairs",
    "with_teeth",
]


def quote_for(answer: Answer) -> Quote:
    """The price of what a check found, at the job's shop rates; grinding is priced only where it may be done."""
    if answer.verdict.code not in (Code.DONT_GRIND, Code.DONT_USE):
        return quote(answer.work, rates_of(answer.job.shop))
    nothing = Work((0.0, 0.0, 0.0), (0.0, 0.0, 0.0), answer.work.material)
    priced = quote(nothing, rates_of(answer.job.shop))
    return replace(priced, notes=(f"No grinding is priced: {answer.verdict.reason}.", *priced.notes))


def rates_of(shop: Shop) -> Rates:
    """A job's shop rates as the quote takes them."""
    return Rates(shop.currency, shop.rate, shop.consumables, shop.crack_check_fee, shop.minimum_hours, shop.tax_percent)
