"""A quote: complete, frozen, in Decimal and in words, so that sheets, tables and JSON only print it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Literal

from geartrack.quote.given import Answer, Stands
from geartrack.quote.three import Three

Group = Literal["checks", "grinding", "option"]


@dataclass(frozen=True)
class Line:
    """One line: hours (None for a fee) and money, each low to high, and where the figures come from.

    origin: `result`, `shop file`, `typed` or `default`, or two of them; basis: how it was worked out, or what the
    default rests on. key: what a shop file calls it. group: `checks` (always done), `grinding` (done if the boss is
    ground) or `option` (only if found, outside every total). counted: it is in `total`, at least in its high. owed: to
    be paid although the case fails its checks. together: lines of one name rise and fall together, since one size of
    cut makes them.
    """

    name: str
    hours: Three | None
    money: Three
    origin: str
    basis: str = ""
    counted: bool = True
    key: str = ""
    group: Group = "checks"
    owed: bool = False
    together: str = ""


@dataclass(frozen=True)
class Option:
    """An `if found` line: what it is, what it comes to with tax, its chance, and the customer's answer.

    chance: from 0 to 1, None where it is not known; chance_words: as it is told; expected: chance by likely sum.
    answer: None until the customer says yes, no or call me, before teardown. in_total: whether `total` holds it, at
    least in its high.
    """

    key: str
    name: str
    says: str
    hours: Three
    total: Three
    in_total: bool
    chance: Decimal | None
    chance_words: str = ""
    expected: Decimal | None = None
    answer: Answer | None = None


@dataclass(frozen=True)
class Chances:
    """Sums that 10, 50 and 90 of 100 such jobs stay within, and the mean; tax included."""

    p10: Decimal
    p50: Decimal
    p90: Decimal
    mean: Decimal


@dataclass(frozen=True)
class Sums:
    """What one way of the job comes to: net = lines + minimum, total = net + tax + rounding, exactly as printed.

    name: `Checks only`, `Checks and grinding` or `Total`. lines: of money. minimum: what is added up to the minimum
    charge (it falls from low to high). hours: charged, the minimum included.
    not_to_exceed: nothing above it is charged without asking first.
    """

    name: str
    hours: Three
    lines: Three
    minimum: Three
    net: Three
    tax: Three
    rounding: Three
    total: Three
    chances: Chances
    not_to_exceed: Decimal


@dataclass(frozen=True)
class Term:
    """A term of the quote. signature: to be signed before the first cut. shops_own: worded by the shop."""

    key: str
    title: str
    text: str
    signature: bool = False
    shops_own: bool = False


@dataclass(frozen=True)
class Firmer:
    """A reading that would firm the price: how long it takes, what that comes to with tax, what it would tell."""

    reading: str
    minutes: int
    money: Decimal
    says: str


@dataclass(frozen=True)
class Head:
    """The head of the quote.

    headline: QUOTE or ESTIMATE BEFORE MEASURING. marks: what must stand under it, such as MEASURE FIRST. verdict: its
    words. valid_until: None where no day was given.
    """

    shop: str
    job: str
    teeth: str
    ratio: str
    case_mark: str
    verdict: str
    headline: str
    marks: tuple[str, ...]
    made_on: date | None
    valid_days: int
    valid_until: date | None


@dataclass(frozen=True)
class Figures:
    """What the quote rests on: the shop's figures with their origin, and whether the boss has to be ground.

    decimals: of the currency. chance: that it has to be, from 0 to 1; chance_words: as it is told.
    """

    currency: str
    decimals: int
    rate: Three
    rate_origin: str
    minimum_hours: Decimal
    minimum_origin: str
    tax_name: str
    tax_percent: Decimal | None
    stands: Stands
    chance: Decimal
    chance_words: str
    chance_origin: str


@dataclass(frozen=True)
class Page:
    """Plain sentences for the customer's page: what it is about, what is included and what is not, what is not known
    yet, what would firm the price, the terms (terms_note stands under them), what else must be said, and what else is
    possible where this case may not be ground.
    """

    about: str
    included: tuple[str, ...]
    not_included: tuple[str, ...]
    unknowns: tuple[str, ...]
    firmer: tuple[Firmer, ...]
    terms: tuple[Term, ...]
    terms_note: str
    notes: tuple[str, ...]
    instead: tuple[str, ...] = ()


@dataclass(frozen=True)
class Quote:
    """The quote.

    lines: every line in order, options last. without, with_grinding: both ways of the job (None where grinding is not
    priced). sums: over both: low of the cheaper way that may come, likely of the likelier, high of the dearer; its
    chances weigh both ways. owed: due if the case fails its checks, tax included.
    """

    head: Head
    figures: Figures
    lines: tuple[Line, ...]
    options: tuple[Option, ...]
    sums: Sums
    without: Sums
    with_grinding: Sums | None
    owed: Three
    page: Page

    @property
    def currency(self) -> str:
        """The currency of every sum, by ISO 4217."""
        return self.figures.currency

    @property
    def hours(self) -> Three:
        """Hours charged."""
        return self.sums.hours

    @property
    def total(self) -> Three:
        """What the customer pays, tax and rounding included."""
        return self.sums.total
