"""The one facade: check a job, compare ratios, list a gear set's dimensions, price the work."""

from geartrack.study.answer import Answer, RatioTable
from geartrack.study.check import check, with_teeth
from geartrack.study.document import as_document
from geartrack.study.document_passes import document_of_passes
from geartrack.study.document_quote import document_of_quote
from geartrack.study.document_setup import document_of_setup
from geartrack.study.gears import GearSheet, gear_dimensions
from geartrack.study.passes import Pass, PassPlan, pass_plan
from geartrack.study.quotes import QuoteRow, QuoteTable, compare_quotes, quote_for
from geartrack.study.ratios import compare_ratios, pairs_between, typed_pairs
from geartrack.study.shop import rates_of

__all__ = [
    "Answer",
    "GearSheet",
    "Pass",
    "PassPlan",
    "QuoteRow",
    "QuoteTable",
    "RatioTable",
    "as_document",
    "check",
    "compare_quotes",
    "compare_ratios",
    "document_of_passes",
    "document_of_quote",
    "document_of_setup",
    "gear_dimensions",
    "pairs_between",
    "pass_plan",
    "quote_for",
    "rates_of",
    "typed_pairs",
    "with_teeth",
]
