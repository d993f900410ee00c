"""quote(): lines, both ways the job may go, their chances, options and terms, from results and figures only."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from decimal import Decimal

from geartrack.currencies import decimals
from geartrack.quote import terms as said
from geartrack.quote.given import Need, Rates, Subject, Work
from geartrack.quote.hours import lines as all_lines
from geartrack.quote.hours import minimum, rate_of
from geartrack.quote.model import Chances, Figures, Head, Line, Page, Quote, Sums
from geartrack.quote.options import options
from geartrack.quote.pert import Way
from geartrack.quote.sums import Counting, chances_of, sum_of, sums
from geartrack.quote.three import Three

LIKELIER = Decimal("0.5")
CHECKS_ONLY, BOTH = "Checks only", "Checks and grinding"
PLANNED, NOBODY = Need(), Subject()


def quote(work: Work, rates: Rates, need: Need = PLANNED, subject: Subject = NOBODY) -> Quote:
    """Price the work that a result calls for; see Work, Rates, Need and Subject for what each holds.

    Raises InputError for a currency that ISO 4217 does not have.
    """
    if work.mass_g[2] <= 0 and need.stands in ("planned", "open"):
        need = replace(need, stands="not needed", chance=Decimal(0))
    count = Counting.of(rates)
    lines = tuple(_lines(work, rates, need))
    checks = sums(CHECKS_ONLY, _of(lines, "checks"), count)
    grinding = sums(BOTH, _of(lines, "checks", "grinding"), count) if _of(lines, "grinding") else None
    counted = grinding if any(line.counted for line in _of(lines, "grinding")) else None
    whole = _spanned(checks, counted, need, chances_of(_ways(lines, (checks, counted), need, count), count))
    owed = sums("Owed", [line for line in lines if line.owed], count).total
    return Quote(
        head=_head(subject, rates, need),
        figures=_figures(rates, need),
        lines=lines,
        options=tuple(options(lines, (checks, grinding), need, rates, count)),
        sums=whole,
        without=checks,
        with_grinding=grinding,
        owed=owed,
        page=Page(
            about=said.ABOUT,
            included=tuple(said.included(lines, need)),
            not_included=said.NOT_INCLUDED,
            unknowns=tuple(said.unknowns(subject, need, next((line for line in lines if line.key == "cut"), None))),
            firmer=tuple(said.firmer(subject, need, count.rate.likely * (1 + count.tax), count.unit)),
            terms=said.terms(subject, rates, need, owed, whole.not_to_exceed),
            terms_note=said.NOT_LEGAL,
            notes=tuple(_notes(lines, rates, count, need)),
            instead=subject.instead,
        ),
    )


def _head(subject: Subject, rates: Rates, need: Need) -> Head:
    return Head(
        shop=rates.name,
        job=subject.job,
        teeth=subject.teeth,
        ratio=subject.ratio,
        case_mark=subject.case_mark,
        verdict=subject.verdict,
        headline=said.headline(subject),
        marks=tuple(said.marks(subject, need)),
        made_on=subject.made_on,
        valid_days=said.valid_days(rates),
        valid_until=said.valid_until(subject, rates),
    )


def _figures(rates: Rates, need: Need) -> Figures:
    return Figures(
        rates.currency,
        decimals(rates.currency),
        *rate_of(rates),
        *minimum(rates),
        tax_name=rates.tax_name,
        tax_percent=rates.tax_percent,
        stands=need.stands,
        chance=need.chance,
        chance_words=said.chance_words(need.chance),
        chance_origin=need.origin,
    )


def _lines(work: Work, rates: Rates, need: Need) -> Iterator[Line]:
    """The lines that are shown, each with whether the total holds it."""
    refused = rates.if_found.get("grind") == "no" and need.stands == "open"
    counts = need.stands in ("planned", "open") and not refused
    for line in all_lines(work, rates):
        if line.group == "checks":
            yield line
        elif need.stands != "not allowed":
            yield replace(line, counted=counts and line.group == "grinding")


def _of(lines: Sequence[Line], *groups: str) -> list[Line]:
    return [line for line in lines if line.group in groups]


def _ways(lines: Sequence[Line], both: tuple[Sums, Sums | None], need: Need, count: Counting) -> list[Way]:
    """The ways the job may go by their chances."""
    checks, grinding = both
    chance = Decimal(0) if grinding is None else Decimal(1) if need.stands == "planned" else need.chance
    without = Way(1 - chance, sum_of(_of(lines, "checks"), count), checks.total.low, checks.total.high)
    if grinding is None:
        return [without]
    ground = sum_of(_of(lines, "checks", "grinding"), count)
    found = [without, Way(chance, ground, grinding.total.low, grinding.total.high)]
    return [way for way in found if way.chance > 0]


def _spanned(checks: Sums, grinding: Sums | None, need: Need, chances: Chances) -> Sums:
    """Low of the cheaper way that may come, likely of the likelier, high of the dearer, and what all ways come to."""
    dearer = grinding or checks
    cheaper = dearer if need.stands == "planned" else checks
    likelier = dearer if need.stands == "planned" or need.chance >= LIKELIER else checks

    def each(pick: Callable[[Sums], Three]) -> Three:
        low, likely, high = (pick(way) for way in (cheaper, likelier, dearer))
        return Three(low.low, likely.likely, high.high)

    return Sums(
        name="Total",
        hours=each(lambda way: way.hours),
        lines=each(lambda way: way.lines),
        minimum=each(lambda way: way.minimum),
        net=each(lambda way: way.net),
        tax=each(lambda way: way.tax),
        rounding=each(lambda way: way.rounding),
        total=each(lambda way: way.total),
        chances=chances,
        not_to_exceed=dearer.not_to_exceed,
    )


def _notes(lines: Sequence[Line], rates: Rates, count: Counting, need: Need) -> Iterator[str]:
    if rates.rate is None or any("default" in line.origin for line in lines):
        yield "Figures marked default are from memory, not this shop's: its own go into its shop file, or into [shop]."
    if rates.tax_percent is None:
        yield "Before tax: no tax rate was given."
    if rates.if_found.get("grind") == "no" and need.stands == "open":
        yield "The customer does not want the boss ground if it is found too near: the total holds the checks only."
    if count.step > count.unit:
        yield f"Totals go up to the next {count.step:f} {rates.currency}."
