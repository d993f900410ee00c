"""From a check to its quote: the work, whether it is needed, the shop's figures, and whose job it is."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal

from geartrack.errors import InputError, refuse
from geartrack.job import Job
from geartrack.materials import FACTS, Material
from geartrack.quote import Firming, Need, Quote, Stands, Subject, Work, quote
from geartrack.spread import NextReading
from geartrack.study.answer import Answer
from geartrack.study.passes import pass_plan
from geartrack.study.shop import rates_of
from geartrack.units import Units
from geartrack.verdict import Code

FIRMING = 3  # readings named on the customer's page
_STANDS: dict[Code, Stands] = {
    Code.GRIND: "planned",
    Code.HITS: "planned",
    Code.CLEARS: "not needed",
    Code.DONT_GRIND: "not allowed",
    Code.DONT_USE: "not allowed",
}


def quote_for(answer: Answer, made_on: date | None = None) -> Quote:
    """The price of what a check found, at the job's shop rates; grinding is priced only where it may be done."""
    return quote(work_of(answer), rates_of(answer.job), need_of(answer), subject_of(answer, made_on))


def work_of(answer: Answer) -> Work:
    """The work of an answer with the passes that are planned for it, where it may be ground by."""
    try:
        plan = pass_plan(answer)
    except InputError:
        return answer.work  # nothing to grind by yet: the fits follow from the depth
    likely = sum(not each.if_short for each in plan.left)
    least = min(likely, max(1, round(likely * answer.work.depth_mm[0] / answer.work.depth_mm[1])))
    return replace(answer.work, passes=(least, likely, len(plan.left)))


def need_of(answer: Answer) -> Need:
    """Whether the boss has to be ground, by the verdict, and the chance that the gap is less than wanted."""
    verdict, band, target = answer.verdict, answer.band, answer.target_mm
    stands = _STANDS.get(verdict.code, "open")
    if band.p_target is not None:
        chance, origin = 1 - band.p_target, "result: share of the draws under the gap wanted"
    else:
        width = band.high - band.low
        chance = min(1.0, max(0.0, (target - band.low) / width)) if width > 0 else float(band.low < target)
        origin = "result: share of low to high under the gap wanted"
    return Need(stands, Decimal(str(round(chance, 4))), origin, verdict.reason)


def subject_of(answer: Answer, made_on: date | None = None) -> Subject:
    """Whose quote it is, and what would firm its price."""
    job, verdict = answer.job, answer.verdict
    name, pair = job.gears.name, str(answer.pair)
    return Subject(
        job=job.name,
        teeth=pair,
        ratio=f"{answer.pair.ratio:.2f}",
        gears=f"the gear set {name}{'' if pair in name else f' ({pair})'}" if name else "",
        axle=job.axle.name,
        case_mark=job.case.mark,
        metal=FACTS[Material(job.case.material)].words,
        verdict=verdict.words,
        measured=measured(job),
        next_reading=verdict.next_reading or "",
        firming=tuple(_firming(e) for e in answer.next_readings[:FIRMING]),
        instead=tuple(each.words for each in answer.alternatives),
        made_on=made_on,
    )


def _firming(reading: NextReading) -> Firming:
    worth = reading.worth
    narrows = 1 - worth.half_after / worth.half_now if worth.half_now > 0 else 0.0
    return Firming(reading.name, reading.minutes, worth.settles, narrows)


def measured(job: Job) -> bool:
    """Whether boss and ring of this very job were read on the bench: the case, and the ring's heights or a gap."""
    ring = any(value is not None for value in dict(job.gears.measured).values())
    return job.case.measured == "this case" and (ring or bool(job.readings))


@dataclass(frozen=True)
class QuoteRow:
    """One option of a comparison: a tooth pair, or another job file.

    gap_mm: as calculated, low_mm to high_mm. depth_mm: deepest cut toward the pinion as calculated, None where nothing
    is cut or no depth may be given; wall_mm: what that cut leaves, or the wall now. All [mm].
    """

    name: str
    gap_mm: float
    low_mm: float
    high_mm: float
    depth_mm: float | None
    wall_mm: float
    quote: Quote


@dataclass(frozen=True)
class QuoteTable:
    """Options side by side, in the order asked for; target_mm: gap wanted by the first [mm]."""

    job: str
    units: Units
    currency: str
    target_mm: float
    rows: tuple[QuoteRow, ...]
    notes: tuple[str, ...]


def compare_quotes(named: Sequence[tuple[str, Answer]], made_on: date | None = None) -> QuoteTable:
    """Options side by side, each a checked job with its name. Raises InputError where their currencies differ."""
    rows = tuple(_row(name, answer, quote_for(answer, made_on)) for name, answer in named)
    first = named[0][1]
    currencies = {row.quote.currency: row.name for row in rows}
    if len(currencies) > 1:
        said = " and ".join(f"{name} in {code}" for code, name in currencies.items())
        raise refuse("--other", f"sums cannot be compared: {said}", "one shop for all: --shop FILE")
    notes = []
    if len({round(answer.target_mm, 6) for _, answer in named}) > 1:
        notes.append("the options do not want the same gap.")
    return QuoteTable(first.job.name, first.job.units, rows[0].quote.currency, first.target_mm, rows, tuple(notes))


def _row(name: str, answer: Answer, made: Quote) -> QuoteRow:
    cuts = answer.cuts
    cut = cuts if cuts is not None and not cuts.nominal.empty else None
    return QuoteRow(
        name=name,
        gap_mm=answer.gap.lower_mm,
        low_mm=answer.band.low,
        high_mm=answer.band.high,
        depth_mm=cut.nominal.depth_radial_max_mm if cut else None,
        wall_mm=cut.wall.left_mm if cut else answer.wall_before.before_mm,
        quote=made,
    )
