"""What stands on the customer's page in sentences: included, not known yet, terms. The shop may reword its terms."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, timedelta
from decimal import Decimal

from geartrack.quote.given import Need, Rates, Subject
from geartrack.quote.hours import rate_of
from geartrack.quote.model import Firmer, Line, Term
from geartrack.quote.three import Three, to_step

LEAST_WORTH = Decimal("0.05")  # a reading that is worth less is not named
VALID_DAYS = 30  # common practice, no source
ABOUT = (
    "Inside the case a cast boss holds the small bearing at the inner end of the pinion. A steeper gear set has a"
    " thicker ring gear, and its teeth can come too near to that boss. Then a little metal is ground off the boss, and"
    " the wall round the bearing is watched while it is done."
)
NOT_LEGAL = "These terms are the shop's own to change. They are not legal advice."
NOT_INCLUDED = (
    "Gears, bearings, seals, shims, oil and other parts.",
    "Taking the axle or its case out of the car, and putting it back.",
    "Setting up the pinion and the ring gear, unless a line says so.",
)
TERM_TITLES = {
    "valid": "How long this holds",
    "this_set": "What it holds for",
    "decided": "Lines marked 'if found'",
    "ceiling": "The most that is charged",
    "case_fails": "If the case fails its checks",
    "own_gears": "Gears that you bring",
    "alters": "Grinding is for good",
    "strength": "What the shop does not say",
}
"""Every term by the key that a shop file rewords it with."""


def valid_days(rates: Rates) -> int:
    """How many days the quote holds."""
    return VALID_DAYS if rates.valid_days is None else rates.valid_days


def valid_until(subject: Subject, rates: Rates) -> date | None:
    """The last day of the quote; None where it has no first."""
    return subject.made_on + timedelta(days=valid_days(rates)) if subject.made_on else None


def chance_words(chance: Decimal | None) -> str:
    """A chance from 0 to 1 as it is told.

    >>> chance_words(Decimal("0.004")), chance_words(Decimal("0.42")), chance_words(None)
    ('less than 1 in 100', 'about 42 in 100', 'not known')
    """
    if chance is None:
        return "not known"
    if chance < Decimal("0.01"):
        return "less than 1 in 100"
    return "more than 99 in 100" if chance > Decimal("0.99") else f"about {to_step(chance * 100, Decimal(1))} in 100"


def money_words(value: Decimal, currency: str) -> str:
    """A sum with its currency.

    >>> money_words(Decimal("1234.50"), "GBP")
    '1,234.50 GBP'
    """
    return f"{value:,f} {currency}"


def range_words(value: Three, currency: str) -> str:
    """Low to high with the currency; one sum where both are the same."""
    if value.low == value.high:
        return money_words(value.low, currency)
    return f"{value.low:,f} to {money_words(value.high, currency)}"


def headline(subject: Subject) -> str:
    """The head of the quote."""
    return "QUOTE" if subject.measured else "ESTIMATE BEFORE MEASURING"


def marks(subject: Subject, need: Need) -> Iterator[str]:
    """What must stand under the head."""
    if subject.next_reading and need.stands == "open":
        yield f"{subject.verdict}: the price is not firm until this is read: {subject.next_reading}."
    elif need.stands == "open" and subject.verdict:
        yield f"{subject.verdict}: the price is not firm yet."
    if need.stands == "not allowed":
        yield f"{subject.verdict}: no grinding is priced, since {need.why}."
    if not subject.measured:
        yield "Ring and boss of this job were not both read on the bench: figures of other castings and usual gears."


def included(lines: tuple[Line, ...], need: Need) -> Iterator[str]:
    """What the total holds, in the order of the work."""
    for line in lines:
        if line.counted and line.group == "checks":
            yield f"{line.name}."
        elif line.counted and line.group == "grinding":
            yield f"{line.name}{', if the boss has to be ground' if need.stands == 'open' else ''}."


def unknowns(subject: Subject, need: Need, cut: Line | None) -> Iterator[str]:
    """What is not known yet and could move the price."""
    if need.stands in ("open", "not needed"):
        yield f"Whether the boss has to be ground: {chance_words(need.chance)}, as far as is known now."
    if cut is not None and cut.hours is not None and need.stands != "not needed":
        low, high = (to_step(hours * 60, Decimal(1)) for hours in (cut.hours.low, cut.hours.high))
        span = "about a minute" if high <= 1 else f"{low} to {high} minutes" if low != high else f"{high} minutes"
        yield f"How much metal has to go: {span} of cutting, by what is known now."
    if subject.metal == "metal":
        yield "What the case is made of: it sets the burr, the cutting time and how cracks are looked for."
    if need.stands != "not allowed":
        yield "Cracks, welds and the state of the pilot bore: seen only when the case is bare and clean."


def firmer(subject: Subject, need: Need, hour: Decimal, unit: Decimal) -> Iterator[Firmer]:
    """The readings that would firm the price, best first: what each settles, or how much it narrows the cut.

    hour: what an hour comes to with tax.
    """
    for each in subject.firming:
        planned = need.stands == "planned"
        worth = Decimal(str(round(each.narrows if planned else each.settles, 4)))
        if worth < LEAST_WORTH or need.stands == "not allowed":
            continue
        share = to_step(100 * worth, Decimal(1))
        tells = (
            f"Narrows how much has to come off, by about {share} %."
            if planned
            else f"Settles whether the boss has to be ground in {chance_words(worth)} such axles."
        )
        minutes = max(1, round(each.minutes))
        yield Firmer(each.reading, minutes, to_step(hour * minutes / 60, unit), tells)


def terms(subject: Subject, rates: Rates, need: Need, owed: Three, ceiling: Decimal) -> tuple[Term, ...]:
    """Every term in order, in the shop's own words where it has them, then the shop's further ones."""
    usual = _usual(subject, rates, owed, ceiling)
    if need.stands == "not allowed":
        usual = {key: text for key, text in usual.items() if key not in ("alters", "decided")}
    found = [
        Term(key, TERM_TITLES[key], rates.terms.get(key, text), key == "alters", key in rates.terms)
        for key, text in usual.items()
    ]
    more = [Term(f"more_{n}", "Further", text, shops_own=True) for n, text in enumerate(rates.more_terms, 1)]
    return (*found, *more)


def _usual(subject: Subject, rates: Rates, owed: Three, ceiling: Decimal) -> dict[str, str]:
    until = valid_until(subject, rates)
    day = f", to {until.isoformat()}" if until else ""
    gears = subject.gears or (f"the {subject.teeth} gear set" if subject.teeth else "the gear set named above")
    case = f"the case marked {subject.case_mark}" if subject.case_mark else "the one case that was looked at"
    axle = f" (axle: {subject.axle})" if subject.axle else ""
    money, rate = rates.currency, rate_of(rates)[0]
    return {
        "valid": f"This price holds for {valid_days(rates)} days{day}.",
        "this_set": f"It holds for {gears}, {case} and the carrier that belongs to them{axle}, and for nothing else."
        " Castings of one pattern differ: another gear set, case or carrier is priced anew.",
        "decided": "Each line marked 'if found' is answered yes, no or call me before anything is taken apart. Call me"
        " means that work stops until you have answered.",
        "ceiling": f"No more than {money_words(ceiling, money)} is charged without asking you first.",
        "case_fails": "If a crack, a weld or a worn pilot bore is found, or the wall does not allow grinding, work"
        f" stops. The checks and the strip are then owed, {range_words(owed, money)}, and the case goes back to you.",
        "own_gears": "Gears that you bring are counted when they arrive; their numbers and condition are written down."
        " They are not warranted by this shop. Work to be done again because of them is charged at the shop rate,"
        f" {range_words(rate, money)} an hour.",
        "alters": "Grinding alters the case for good. It cannot be undone, may end its maker's warranty and may break a"
        " class rule. To be signed before the first cut.",
        "strength": "The shop reads gap and wall. It does not judge the strength of a casting.",
    }
