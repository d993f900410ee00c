"""The old-gears card: the new set's gap from the old set's, eleven entries, no drawing (DESIGN 12, difference method).

The eleven are those that narrow the answer most: across the toe ends beside the two heights, since how far in the
teeth reach is worth more than a millimetre of range. The hypoid offset goes with the ring diameter, how the gap was
taken with the gap.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from functools import partial
from typing import Any

from geartrack.cards.answer import CardAnswer
from geartrack.cards.bare_sums import BALL_CALIPER_MM
from geartrack.cards.difference import NewGap, new_gap
from geartrack.cards.entries import Card, Cost, Setting, cost, read_entries
from geartrack.cards.old_checks import checks
from geartrack.cards.old_costs import costs_of_blanks
from geartrack.cards.old_cut import Depths, depths
from geartrack.cards.old_entries import ENTRIES, NEEDED
from geartrack.cards.old_job import job_document
from geartrack.cards.old_sums import Axle, axle_of, readings_of, why_heights_do_not_count
from geartrack.cards.shop_list import ShopList, shop_list
from geartrack.errors import Finding, InputError
from geartrack.inputs import minimum_wall_start, running_inputs
from geartrack.job import Job, job_from_dict
from geartrack.materials import FACTS, Material
from geartrack.quote import Quote, Work, quote
from geartrack.study import rates_of
from geartrack.units import Units, show_both, show_length
from geartrack.verdict import Code, Facts, Verdict, decide

NAME = "old-gears"
THE_GAP = "once the new set is in: the gap itself, by feeler or solder, at final backlash over a full turn"
WORTH_MM = 0.03  # a reading that narrows the gap by less is not asked for
ONLY_THE_TOE = (
    "only the ring's toe against the boss is worked: if the tightest spot is elsewhere, this card does not hold; other"
    " ribs, caps, bolts, cross pin and cover are not looked at"
)


def work(typed: Mapping[str, str], setting: Setting) -> CardAnswer:
    """The old-gears card's answer from typed texts. Raises InputError with every fault."""
    listed = shop_list(setting.axles, setting.base)
    said = read_entries(ENTRIES, typed, setting.bare, (partial(_checks, listed, setting),))
    lacking = [entry for entry in ENTRIES if entry.key in NEEDED and entry.key not in said]
    if lacking:
        why = f"No answer without {' and '.join(entry.name for entry in lacking)}."
        costs = tuple(cost(entry, None, setting.units) for entry in lacking)
        return CardAnswer(NAME, Code.CANT_SAY, why, costs=costs, next=tuple(entry.question for entry in lacking))
    axle = axle_of(said["axle"], listed, setting.base)
    found = new_gap(readings_of(said, axle))
    return _answered(said, axle, found, listed, setting)


CARD = Card(NAME, ENTRIES, work, asks_for_axles=True)


def _checks(listed: ShopList, setting: Setting, said: Mapping[str, Any]) -> Iterator[Finding]:
    size = None
    if "axle" in said:
        try:
            axle = axle_of(said["axle"], listed, setting.base)
            size = axle.ring.value, axle.offset.value
        except InputError as fault:
            yield from fault.findings
    yield from checks(said, size, setting.units)


def _answered(said: Mapping[str, Any], axle: Axle, found: NewGap, listed: ShopList, setting: Setting) -> CardAnswer:
    units = setting.units
    document = job_document(said, axle, found, setting)
    job = job_from_dict(document, setting.base, "old-gears card")
    wall = said.get("wall")
    minimum = minimum_wall_start(wall).value if wall else None
    cut = depths(
        found,
        wall_mm=wall,
        stub_mm=axle.stub_mm,
        minimum_mm=minimum or 0.0,
        target_mm=job.target.gap.value,
        allowance_mm=job.target.allowance.value,
    )
    costs = costs_of_blanks(said, axle, found, units)
    asks = _next(costs, units)
    verdict = decide(_facts(job, found, cut, wall, minimum, asks[0]))
    deep = cut.depth_mm > 0 and verdict.code not in (Code.CLEARS, Code.NOT_EXPECTED)
    return CardAnswer(
        NAME,
        verdict.code,
        _sentence(said, found, cut, verdict, job, units),
        sums=_sums(found, units),
        low_mm=found.low_mm,
        high_mm=found.high_mm,
        depth_mm=cut.depth_mm if deep else None,
        stop_mm=cut.stop_mm if verdict.grinds else None,
        wall_left_mm=cut.wall_mm if deep else None,
        price=_price(cut, listed, verdict) if deep else None,
        price_for="the cut from its least to its most, as worked out here",
        costs=costs,
        next=() if verdict.code is Code.CLEARS else asks,
        job=document,
        notes=_notes(said, found, verdict),
    )


def _facts(job: Job, found: NewGap, cut: Depths, wall: float | None, minimum: float | None, reading: str) -> Facts:
    """What the verdict rests on: the gap was read in this very case, and that places the boss."""
    running = sum(quantity.high for quantity in running_inputs(job).values())
    spread = BALL_CALIPER_MM
    return Facts(
        gap_low_mm=found.low_mm,
        gap_high_mm=found.high_mm,
        target_mm=job.target.gap.value,
        running_low_mm=found.low_mm - running,
        wall_low_mm=max(0.0, (cut.wall_low_mm or 0.0) - spread),
        wall_high_mm=(cut.wall_high_mm or 0.0) + spread,
        wall_before_mm=wall - spread if wall else 0.0,
        minimum_wall_mm=minimum,
        ring_placed=found.readings.thicker is not None,
        this_case=True,
        next_reading=reading,
        gap_reading_needed=found.placement.disagreement,
        wall_reading_needed=None if wall else "no wall was read, so no grinding can be promised",
    )


def _sentence(said: Mapping[str, Any], found: NewGap, cut: Depths, verdict: Verdict, job: Job, units: Units) -> str:
    """New gap, depth, STOP, wall left, in one."""
    low, high = (show_both(mm_, units, rounding="down") for mm_ in (found.low_mm, found.high_mm))
    pairs = f"{found.readings.new} in place of {found.readings.old}"
    text = f"With {pairs} the gap will be {low} to {high}; wanted {show_both(job.target.gap.value, units)}"
    if verdict.code in (Code.CLEARS, Code.NOT_EXPECTED) or cut.most_mm <= 0:
        return f"{text}."
    deep = show_both(cut.depth_mm, units, rounding="up")
    least, most = (show_length(mm_, units, rounding="up") for mm_ in (cut.least_mm, cut.most_mm))
    take = "take off" if verdict.grinds else "it would take a cut of"
    text = f"{text}; {take} {deep}, {least} to {most}, beside the tightest spot"
    if cut.wall_mm is None:
        return f"{text}; wall left not known."
    if verdict.grinds and cut.stop_mm is not None:
        text = f"{text}; STOP at {show_length(cut.stop_mm, units, rounding='down')}"
    minimum = show_length(minimum_wall_start(said["wall"]).value, units, rounding="up")
    return f"{text}; wall left {show_both(cut.wall_mm, units, rounding='down')}, minimum {minimum} (default)."


def _sums(found: NewGap, units: Units) -> tuple[str, ...]:
    """Where the new teeth will run against the old, and by what account."""
    lines = []
    for evidence in found.placement.evidence:
        rise = found.old_tip_mm - evidence.toe_tip.value
        by, give = show_both(rise, units), show_both(evidence.toe_tip.spread, units)
        lines.append(f"Toe tips nearer the pinion by {evidence.name}: {by}, give or take {give}")
    if len(lines) > 1:
        lines.append(f"By weight, at final backlash: {show_both(found.rise_mm, units)}")
    return tuple(lines)


def _next(costs: tuple[Cost, ...], units: Units) -> tuple[str, ...]:
    """The blanks that narrow the gap, dearest first, then the wall, then the gap itself."""
    words = {entry.key: entry.question for entry in ENTRIES}
    words |= {"axle": "the hypoid offset, pinion's centre line to the ring's", "gap": "the gap by feeler or solder"}
    narrow = [(words[each.entry], each.mm) for each in costs if each.mm and each.mm > WORTH_MM]
    asks = [f"{what}: narrows the gap by {show_both(mm, units)} each way" for what, mm in narrow]
    walls = [words[each.entry] for each in costs if each.mm is None]
    return (*asks, *walls, THE_GAP)


def _price(cut: Depths, listed: ShopList, verdict: Verdict) -> Quote | None:
    """What the grinding would cost, where it may be done."""
    if verdict.code in (Code.DONT_GRIND, Code.DONT_USE):
        return None
    density = FACTS[Material.UNKNOWN].density_g_mm3
    least, likely, most = (volume * density for volume in cut.volumes_mm3)
    made = Work((least, likely, most), (cut.least_mm, cut.depth_mm, cut.most_mm), Material.UNKNOWN)
    return quote(made, rates_of(listed.axle_job(None)))


def _notes(said: Mapping[str, Any], found: NewGap, verdict: Verdict) -> tuple[str, ...]:
    why = why_heights_do_not_count(said)
    family = (
        "the boss is not known: round ones and ones with a flat were tried, each at the old gap, and low to high spans"
    )
    notes = [verdict.reason, why, f"{family} them all", ONLY_THE_TOE]
    if verdict.code not in (Code.CLEARS, Code.NOT_EXPECTED):
        notes.append("no grinding before the metal is known: an aluminium case needs its maker's minimum wall first")
    return tuple(note for note in notes if note)
