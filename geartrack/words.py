"""Results in the words of the bench: places, the one-sentence answer, the cautions. Formats, never computes."""

from __future__ import annotations

import math

from geartrack.frame import Hand
from geartrack.frame import oclock as oclock
from geartrack.inputs import ANGLES, PLAIN
from geartrack.materials import FACTS, Material
from geartrack.quantity import Quantity
from geartrack.spread import Band, NextReading
from geartrack.study.answer import Answer, Place, RatioTable
from geartrack.study.passes import PassPlan
from geartrack.units import Units, show_both, show_length
from geartrack.verdict import Code

NOT_LOOKED_AT = "Not looked at: other ribs, caps, bolts, cross pin, cover, and whatever else is not in the job file."
CAUTIONS = (
    "Eyes and face: safety glasses with side shields and a face shield; burr needles fly.",
    "Dust: casting dust may hold silica; wear a fitted respirator, keep it out of the shop.",
    "Chips: bearings, cups, pilot and seal out or bagged before a burr runs; wash twice, magnet, fresh oil.",
    "Cracks: check before and after; any line at the boss, web or saddle scraps the case.",
    "Never grind the pilot bore or its lead-in, the web, cap registers, bolt bosses, bearing retainer or gear teeth.",
    "The maker's specification, local rules and qualified practice come first. No judgement of casting strength.",
)

FIT_CHECK = (
    "Chips out, by magnet and wipe; bearings, cups and seal stay out or bagged until they have to go in.",
    "Ring and carrier in, caps torqued, side bearings at final preload, backlash at its final figure.",
    "Dye or blue on the ground patch; turn the ring by hand through a full turn.",
    "No rub: read the gap where it is tightest, by feeler or solder, and enter it with --now-at. A rub: enter 0 in.",
    "If this plan and the dye disagree, believe the dye, stop, enter the reading.",
)


def side(place: Place) -> str:
    """Toward or away from the ring's centre line, or nothing where that cannot be said."""
    if place.away is None:
        return ""
    return f", {'away from' if place.away else 'toward'} the ring's centre line"


def where(place: Place, hand: Hand | None, units: Units) -> str:
    """A place on the boss: how far in, and what o'clock."""
    inward = f"{show_length(place.station_mm, units)} in from the pinion-side end"
    if place.station_mm < 0.05:
        inward = "at the edge of the pinion-side end"
    clock = oclock(place.clock) if hand else f"{oclock(abs(place.clock))} or {oclock(-abs(place.clock))} (either side)"
    return f"{inward}, at {clock} seen from the pinion-nut end{side(place)}"


def percent(chance: float) -> str:
    """A chance [-] as a whole number of percent; never 0 or 100, since draws make nothing certain.

    >>> percent(0.004), percent(0.42), percent(1.0)
    ('under 1 %', '42 %', 'over 99 %')
    """
    return "under 1 %" if chance < 0.01 else "over 99 %" if chance > 0.99 else f"{100 * chance:.0f} %"


def settles(answer: Answer, reading: NextReading) -> str:
    """The chance that a reading settles the verdict; a stroke where that is settled already."""
    return "-" if answer.verdict.settled else percent(reading.worth.settles)


def standing(answer: Answer) -> str:
    """What readings can still do to a verdict that stands; nothing for one that does not."""
    if answer.verdict.forbids:
        return "No reading would change it."
    if answer.verdict.settled:
        return "The verdict stands whatever of these is read; a reading narrows low to high, and with it the depth."
    return "" if answer.next_readings else "No reading that is left would narrow it."


def drawn(band: Band, units: Units) -> str:
    """How many draws low to high rests on, how many count after what was read, and how good its ends are."""
    left = f", worth {band.effective:,.0f} after what was read" if band.effective < 0.99 * band.draws else ""
    error = show_both(2 * max(band.low_error, band.high_error), units, rounding="up")
    worst = f"{show_length(band.worst.low, units, rounding='down')} to {show_length(band.worst.high, units)}"
    return f"Low to high by {band.draws:,} draws{left}, its ends to {error}; the straight sum of all limits is {worst}."


def held(answer: Answer) -> str:
    """How sure the cut to hold the gap wanted is to give it."""
    return f"in {answer.job.target.confidence:g} of 100 such axles" if answer.band.draws else "at the worst of all"


def metal(answer: Answer) -> str:
    """What to call what comes off: the metal where it is known."""
    return FACTS[Material(answer.job.case.material)].words


def sentence(answer: Answer, units: Units) -> str:
    """The answer in one sentence: now, low to high, wanted, how much off and where, STOP, wall left and the minimum."""
    gap = show_both(answer.gap.lower_mm, units, rounding="down")
    low = show_length(answer.band.low, units, rounding="down")
    high = show_length(answer.band.high, units, rounding="down")
    text = f"Gap {gap} now, {low} to {high}; wanted {show_both(answer.target_mm, units)}"
    verdict, cuts = answer.verdict, answer.cuts
    place = f"{where(answer.place, answer.hand, units)}, against the {answer.gap.zone} of the ring"
    if verdict.code in (Code.DONT_USE, Code.DONT_GRIND, Code.HITS):
        text = f"{verdict.reason[:1].upper()}{verdict.reason[1:]}. {text}"
    if verdict.code in (Code.DONT_USE, Code.CLEARS, Code.NOT_EXPECTED) or cuts is None:
        return f"{text}; nearest {place}."
    wall = f"wall left {show_both(cuts.wall.left_mm, units, rounding='down')}, {minimum_words(answer, units)}"
    deep = show_both(cuts.nominal.depth_radial_max_mm, units, rounding="up")
    if not verdict.grinds or cuts.stop is None or cuts.at_stop is None:
        needed = f"it would take a cut {deep} deep there, {wall}" if not cuts.nominal.empty else wall
        return f"{text}; nearest {place}; {needed}."
    least, most = (show_length(cut.depth_radial_max_mm, units, rounding="up") for cut in (cuts.least, cuts.hold))
    if "prefer another case" in FACTS[Material(answer.job.case.material)].advice:
        text = f"Prefer another case. {text}"
    stop = f"STOP at {show_length(cuts.at_stop.depth_radial_max_mm, units, rounding='down')}"
    return f"{text}; take off {deep}, {least} to {most}, {place}; {stop}; {wall}."


def mass(grams: float) -> str:
    """A mass, grams [g]; what a pass takes is often less than a gram.

    >>> mass(0.0034), mass(1.234)
    ('3.4 mg', '1.23 g')
    """
    return f"{1000 * grams:.1f} mg" if grams < 1 else f"{grams:.2f} g"


def to_take(plan: PassPlan, units: Units) -> list[str]:
    """Where the work in passes stands, what is left to take, and what else is possible where STOP comes first."""
    wanted = show_both(plan.answer.target_mm, units)
    stop = f"STOP at {show_both(plan.stop_depth_mm, units, rounding='down')} from the boss as cast"
    if plan.state == "done":
        return [f"The gap wanted, {wanted}, is there: take no more off."]
    lines = []
    if plan.nearer_mm:
        way = "nearer" if plan.nearer_mm > 0 else "further off"
        lines.append(
            f"By the last reading the ring stands {show_both(abs(plan.nearer_mm), units)} {way} than calculated."
        )
    if plan.state == "stop":
        lines.append(f"STOP is reached, and the gap wanted, {wanted}, is not: take no more off.")
    elif plan.state == "read":
        lines.append(f"All is cut that was planned for the gap wanted, {wanted}: read the gap. {stop}.")
    else:
        deep = show_both(plan.left_depth_mm, units, rounding="up")
        lines.append(f"Left to take for {wanted}: {deep} at the deepest, {mass(plan.left_mass_g)}; {stop}.")
    if plan.stop_first:
        gap = show_both(plan.gap_at_stop_mm, units, rounding="down")
        lines.append(
            f"STOP comes before the gap wanted; there the gap should read {gap}. What else is possible: that gap"
        )
        lines[-1] += (
            " as the one wanted, if you accept it; a less steep pair (geartrack ratios); another case, measured."
        )
    return lines


def metal_lines(answer: Answer) -> list[str]:
    """What the case's metal means for the work."""
    facts = FACTS[Material(answer.job.case.material)]
    return [f"Case metal: {facts.words}. Burr: {facts.burr}.", f"Crack check, before and after: {facts.crack_check}."]


def minimum_words(answer: Answer, units: Units) -> str:
    """The minimum wall, and whether it is the shop's or a labelled starting value."""
    if answer.minimum_wall is None:
        return "minimum not known"
    mark = " (default)" if answer.minimum_wall.origin == "default" else ""
    return f"minimum {show_length(answer.minimum_wall.value, units, rounding='up')}{mark}"


def for_this_case(answer: Answer) -> str:
    """Whose answer this is."""
    mark = answer.job.case.mark or "no mark given"
    return f"For this case only: {mark}. {NOT_LOOKED_AT}"


INPUT_NAMES = {
    "axle.ring_diameter": "Ring diameter",
    "axle.offset": "Hypoid offset",
    "gears.face_width": "Ring face width",
    "gears.pinion_spiral": "Pinion spiral angle",
    "gears.cutter_radius": "Cutter radius",
    "gears.depth_factor": "Tooth depth factor",
    "gears.addendum_factor": "Ring addendum factor",
    "gears.clearance_factor": "Tooth clearance factor",
    "gears.toe_end_angle": "Toe end angle",
    "gears.toe_chamfer": "Toe chamfer",
    "gears.tip_chamfer": "Tip chamfer",
    "gears.model": "Gear model against real gears",
    "gears.toe_tip": "Toe tips above the pinion's centre line, weighed",
    "gears.measured.toe_height": "Height at toe tip on a plate",
    "gears.measured.heel_height": "Height at heel tip on a plate",
    "gears.measured.outside_diameter": "Outside diameter of the ring",
    "gears.measured.toe_inside_diameter": "Inside diameter across the toe tips",
    "gears.measured.back_face": "Back face above the pinion's centre line",
    "boss.end_face": "Boss end face to the ring's centre line",
    "boss.edge_break": "Edge break at the boss's pinion-side end",
    "boss.bore_diameter": "Pilot bore diameter",
    "boss.readings": "Boss outside, as read, scanned or traced",
    "case.outside_off_centre_across": "Boss outside off centre, across",
    "case.outside_off_centre_toward": "Boss outside off centre, toward the ring",
    "case.outside_size": "Boss outside, size",
    "case.bore_off_axis_across": "Pilot bore off the pinion axis, across",
    "case.bore_off_axis_toward": "Pilot bore off the pinion axis, toward the ring",
    "running.backlash": "Backlash, final against checked",
    "running.pinion_moved": "Pinion moved toward the ring's centre line, backlash set again",
    "running.runout": "Back-face runout (TIR)",
    "running.radial_runout": "Radial runout (TIR)",
    "running.deflection": "Give under load, toward the boss",
    "running.heat": "Heat, toward the boss",
    "running.settling": "Bearings settling, toward the boss",
    "target.gap": "Gap wanted",
    "target.allowance": "Grind no deeper than wanted, plus",
    "case.minimum_wall": "Minimum wall",
    "together": "Inputs acting together",
}


def input_name(name: str) -> str:
    """An input's dotted name in bench words."""
    return INPUT_NAMES[name]


def shown(name: str, quantity: Quantity, units: Units) -> tuple[str, str]:
    """An input's value and its give or take, as text."""
    down, up = quantity.value - quantity.low, quantity.high - quantity.value

    def text(value: float) -> str:
        if name in ANGLES:
            return f"{math.degrees(value):.2f} deg"
        return f"{value:.3f}" if name in PLAIN else show_both(value, units)

    if down == up:
        return text(quantity.value), text(up) if up else "-"
    return text(quantity.value), f"{text(quantity.low)} to {text(quantity.high)}"


def crossings(table: RatioTable, units: Units) -> list[str]:
    """Where the gap falls through the target and through zero: a line for each pinion tooth count, then over all."""
    lines = []
    for crossing in table.crossings:
        above, below = crossing.last_above, crossing.first_below
        if above and below and crossing.ratio:
            start = f"{crossing.pinion} pinion teeth: {_level(crossing.level_mm, units)}"
            lines.append(f"{start} between {above} and {below}, near {crossing.ratio:.2f}:1.")
    for level, interval in ((table.target_mm, table.target_interval), (0.0, table.contact_interval)):
        if interval is None:
            lines.append(f"{_level(level, units)}: not between two of these pairs.")
        elif interval[0] < interval[1]:
            lines.append(
                f"Over all tooth counts: {_level(level, units)} between {interval[0]:.2f} and {interval[1]:.2f}:1."
            )
    return lines


def _level(level_mm: float, units: Units) -> str:
    return f"the {show_length(level_mm, units)} wanted is lost" if level_mm else "the teeth first touch"
