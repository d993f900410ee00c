"""The quote: hours and money, low, likely and high, from results and a shop's figures only, in Decimal throughout."""

from geartrack.quote.given import ANSWERS, Firming, Need, Own, Rates, Stands, Subject, Sublet, Work
from geartrack.quote.hours import HOURS_KEYS, PASS_MM, TASKS
from geartrack.quote.model import Chances, Figures, Firmer, Head, Line, Option, Page, Quote, Sums, Term
from geartrack.quote.price import quote
from geartrack.quote.terms import TERM_TITLES, money_words, range_words
from geartrack.quote.three import Three, fixed, three

__all__ = [
    "ANSWERS",
    "HOURS_KEYS",
    "PASS_MM",
    "TASKS",
    "TERM_TITLES",
    "Chances",
    "Figures",
    "Firmer",
    "Firming",
    "Head",
    "Line",
    "Need",
    "Option",
    "Own",
    "Page",
    "Quote",
    "Rates",
    "Stands",
    "Subject",
    "Sublet",
    "Sums",
    "Term",
    "Three",
    "Work",
    "fixed",
    "money_words",
    "quote",
    "range_words",
    "three",
]
