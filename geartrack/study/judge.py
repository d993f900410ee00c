"""From results to the verdict's facts, the reading to take next, what else could be done, and what must be said."""

from __future__ import annotations

from math import atan2, degrees, hypot

from geartrack.assembly import Assembly, Plan, assemble, for_pair, plan, wall_spread, walls_read
from geartrack.boss.scan.from_scan import Scanned, disagreements
from geartrack.boss.stations import CLOCK_STEP_LIMIT, STATION_STEP_LIMIT_MM, reading_steps_at
from geartrack.clearance import Gap, boss_gap
from geartrack.frame import oclock
from geartrack.gearset.blank import ESTIMATED
from geartrack.gearset.teeth import ToothPair
from geartrack.inputs import bench_reading
from geartrack.job import Job
from geartrack.materials import FACTS, Material
from geartrack.quantity import Origin, Quantity
from geartrack.readings import missing
from geartrack.relief import Wall, stop_clearance
from geartrack.spread import Band, NextReading, Range
from geartrack.spread.outcome import FEW_EFFECTIVE
from geartrack.study.answer import Alternative, Cuts, Place
from geartrack.tolerances import TOLERANCES
from geartrack.units import show_both
from geartrack.verdict import Code, Facts, Verdict

READINGS = {
    "axle.ring_diameter": "ring gear's outside diameter over the heel",
    "axle.offset": "hypoid offset, by bar over bar",
    "gears.face_width": "face width of the ring, and inside diameter across the toe tips",
    "gears.toe_chamfer": "chamfer at the ring's toe, and inside diameter across the toe tips",
    "gears.tip_chamfer": "chamfer along the tooth tips",
    "gears.toe_end_angle": "angle of the ring's toe end, with a square",
    "boss.edge_break": "edge break at the boss's pinion-side end, by caliper",
    "boss.end_face": "boss end face to the ring's centre line",
    "case.outside_size": "outside of the boss on this case, by caliper",
    "case.outside_off_centre_across": "wall of the boss at four places on this case, by caliper",
    "case.outside_off_centre_toward": "wall of the boss at four places on this case, by caliper",
    "running.backlash": "backlash, checked and final",
    "running.runout": "back-face runout over a full turn, by dial",
    "running.radial_runout": "radial runout of the ring over a full turn, by dial",
}
THE_PROFILE = 'the boss\'s profile along the bore (side_shows = "profile" under [boss.trace]), or its parts or readings'
OLD_SCALLOP = "the wall in the old scallop, by ball caliper (wall_in_old_scallop under [case])"
MORE_OF_THE_BOSS = "more readings of the boss round the nearest place, 30 degrees and 5 mm apart or less"
THE_UNSEEN = "the boss at the nearest place, by a scan that shows it or by caliper"
THE_SEAT = "hypoid offset and boss end face to the ring's centre line once more: typed and scanned they differ"
THE_RING = "ring heights on a flat plate, and its back face above the pinion's centre line at final backlash"
ITS_BACK_FACE = "the ring's back face above the pinion's centre line, with this set at final backlash"
ANOTHER_CASE = "the boss on this very case: outside, wall at four places, end face"
THE_GAP_AGAIN = (
    "the gap once more, by feeler or solder: caps torqued, final bearings and preload, backlash written down"
)
THE_GAP = "the gap itself, by feeler or solder, at final backlash over a full turn"
THE_WALLS_AGAIN = "the walls once more, bore to outside, each with its clock angle and how far in it was read"
FIRST = (MORE_OF_THE_BOSS, THE_UNSEEN, THE_SEAT, THE_WALLS_AGAIN, THE_GAP_AGAIN, ANOTHER_CASE)
"""Nothing else settles before these."""
WORTH_READING_MM = 0.03  # a reading that narrows the range by less will not settle it; the gap itself will


def facts(
    chosen: Plan,
    found: Band,
    cuts: Cuts,
    before: Wall,
    minimum: Quantity,
    place: Place,
    ranked: tuple[NextReading, ...] | None,
) -> Facts:
    """What the verdict rests on; ranked: readings still to take, None where they were not worked out."""
    job, case, scallop = chosen.job, chosen.job.case, chosen.job.case.wall_in_old_scallop
    unread = case.ground_before and scallop is None
    outlines = job.boss.trace is not None and job.boss.trace.most_metal
    return Facts(
        gap_low_mm=found.low,
        gap_high_mm=found.high,
        target_mm=job.target.gap.value,
        running_low_mm=found.running_low,
        wall_low_mm=min(cuts.wall_low_mm, scallop.low) if scallop else cuts.wall_low_mm,
        wall_high_mm=min(cuts.wall_high_mm, scallop.high) if scallop else cuts.wall_high_mm,
        wall_before_mm=_thinnest_now(chosen, before),
        minimum_wall_mm=minimum.value,
        ring_placed=chosen.ring_placed,
        this_case=case.measured == "this case" or (bool(chosen.absorbed) and found.low >= job.target.gap.value),
        next_reading=OLD_SCALLOP if unread else THE_PROFILE if outlines else _to_take(chosen, found, place, ranked),
        gap_reading_needed=_reading_needed(chosen, found, place),
        wall_reading_needed=(
            "the case was ground before, and the wall there was not read"
            if unread
            else "outlines show the most metal there can be, not the gap nor the wall"
            if outlines
            else None
        ),
        cracked_or_welded="a crack was found" if case.cracked else "it was welded" if case.welded else "",
        bore_fault=_bore_fault(job),
        aluminium_unsettled=_aluminium(job),
    )


def depth_may_be_given(job: Job) -> bool:
    """No depth for a case that is not to be used, nor for aluminium before its minimum wall is settled."""
    return not (job.case.cracked or job.case.welded or _aluminium(job))


def _to_take(chosen: Plan, found: Band, place: Place, ranked: tuple[NextReading, ...] | None) -> str | None:
    """The reading to take next: what must be read first, else the one worth most of those that may settle it."""
    by_rule = next_reading(chosen, found, place)
    if ranked is None or by_rule in (None, *FIRST):
        return by_rule
    return next((each.name for each in ranked if each.settles), None)


def next_reading(chosen: Plan, found: Range, place: Place) -> str | None:
    """The reading that narrows the range most, in plain words; never one that the job has already.

    None where the gap itself was read as well as it can be.
    """
    job = chosen.job
    if _unseen(chosen, place):
        return THE_UNSEEN
    if _contradicted(chosen):
        return THE_SEAT
    if chosen.flagged:
        return THE_WALLS_AGAIN
    if _steps_too_wide(chosen, place):
        return MORE_OF_THE_BOSS
    if job.case.measured != "this case":
        return ANOTHER_CASE
    if chosen.absorbed:
        return THE_GAP_AGAIN if missing(job) or chosen.placement.disagreement else None
    if not chosen.ring_placed:
        return THE_RING if job.gears.measured.toe_height is None else ITS_BACK_FACE
    if chosen.placement.disagreement:
        return THE_RING
    widest = next((s for s in found.shares if s.origin in (Origin.DEFAULT, Origin.TYPED) and s.name in READINGS), None)
    return READINGS[widest.name] if widest and widest.width > WORTH_READING_MM * 4 else THE_GAP


def _thinnest_now(chosen: Plan, before: Wall) -> float:
    scallop = chosen.job.case.wall_in_old_scallop
    everywhere = () if chosen.flagged else (each for _, each in walls_read(chosen.job) if each.of_all)
    least = [bench_reading(each.wall).low for each in everywhere]
    thinnest = min(least, default=before.before_mm - wall_spread(chosen, before.before_clock))
    return min(thinnest, scallop.low) if scallop else thinnest


def _bore_fault(job: Job) -> str:
    faulty = job.case.bore in ("loose", "oval", "spun") and not job.case.bore_put_right
    return f"the pilot bore is {job.case.bore}: put that right first" if faulty else ""


def _aluminium(job: Job) -> str:
    settled = job.case.material != "aluminium" or job.case.makers_minimum_wall is not None
    how = 'makers_minimum_wall = "5 mm", or "not known" once asked for, under [case]'
    return "" if settled else f"aluminium: no depth before the maker's minimum wall is settled ({how})"


def _reading_needed(chosen: Plan, found: Band, place: Place) -> str | None:
    if chosen.placement.disagreement:
        return chosen.placement.disagreement
    if found.flagged:
        these = list(dict.fromkeys(found.flagged))
        goes = f"{' and '.join(these)} {'do' if len(these) > 1 else 'does'} not go with the rest of the job"
        return f"{goes}: was it read or typed wrong, or is it another case?"
    if found.draws and found.effective < FEW_EFFECTIVE:
        return "the readings together leave too little of what was expected: read them again"
    if _unseen(chosen, place):
        return "the scan does not show the boss at the nearest place"
    if contradicted := _contradicted(chosen):
        return contradicted[0]
    steps = _steps_too_wide(chosen, place)
    if steps is None:
        return None
    along, around = steps
    return (
        f"the boss's readings stand {show_both(along, 'in')} and {degrees(around):.0f} deg apart at the nearest place"
    )


def _unseen(chosen: Plan, place: Place) -> bool:
    """Whether the boss is from a scan that shows nothing of it at the nearest place."""
    return isinstance(chosen.readings, Scanned) and chosen.readings.unseen(place.station_mm, place.clock)


def _contradicted(chosen: Plan) -> tuple[str, ...]:
    """What of end face and offset as typed the scan's ring axis contradicts."""
    if not isinstance(chosen.readings, Scanned):
        return ()
    inputs = chosen.inputs
    return disagreements(chosen.readings, end_face=inputs["boss.end_face"], offset=inputs["axle.offset"])


def _steps_too_wide(chosen: Plan, place: Place) -> tuple[float, float] | None:
    """How far apart the boss's readings stand at the nearest place [mm, rad], where that is too far to believe."""
    if chosen.readings is None or isinstance(chosen.readings, Scanned):
        return None
    along, around = reading_steps_at(chosen.readings, place.station_mm, place.clock)
    close = along <= STATION_STEP_LIMIT_MM + TOLERANCES.mesh_mm and around <= CLOCK_STEP_LIMIT + TOLERANCES.mesh_mm
    return None if close else (along, around)


def alternatives(chosen: Plan, now: Assembly, verdict: Verdict, minimum: Quantity) -> tuple[Alternative, ...]:
    """What else is possible where grinding is not: a tooth pair nearby, a smaller gap, another case."""
    if verdict.code not in (Code.DONT_GRIND, Code.DONT_USE):
        return ()
    found = [Alternative("another case of the same kind, measured before the job is promised")]
    if verdict.code is Code.DONT_USE:
        return tuple(found)
    target, pair = chosen.job.target.gap.value, chosen.pair
    nearby = [ToothPair(pair.pinion + step, ring) for step in (0, 1) for ring in range(pair.ring - 4, pair.ring + 5)]
    nearby = [p for p in nearby if pair.ratio - 1.0 < p.ratio < pair.ratio]
    for other in sorted(nearby, key=lambda p: -p.ratio):
        moved = assemble(plan(for_pair(chosen.job, other), other, chosen.hand))
        gap = boss_gap(moved.boss, moved.section).lower_mm
        if gap >= target:
            words = f"{other} = {other.ratio:.2f}:1, gap about {show_both(gap, chosen.job.units, rounding='down')}"
            found.insert(0, Alternative(f"a less steep pair: {words}, from its tooth counts", pair=other))
            break
    held = stop_clearance(
        now.boss, now.section, clearance_mm=target, allowance_mm=0.0, minimum_wall_mm=minimum.value
    ).clearance_mm
    if 0 < held < target:
        words = f"a smaller gap: {show_both(held, chosen.job.units, rounding='down')} is what the minimum wall allows"
        found.append(Alternative(words, target_mm=held))
    return tuple(found)


def _outside(chosen: Plan) -> tuple[str, ...]:
    """Where the walls read put the boss's outside, in words."""
    grown, across, toward = chosen.outside
    if not any(chosen.outside):
        return ()
    units, aside = chosen.job.units, hypot(across, toward)
    size = f"{show_both(abs(grown), units)} {'further out' if grown > 0 else 'further in'} than drawn"
    where = f"{show_both(aside, units)} off centre to {oclock(atan2(across, toward))}"
    return (f"by the walls read the boss's outside stands {size}, {where}",)


def notes(chosen: Plan, now: Assembly, gap: Gap, pinion: Gap) -> tuple[str, ...]:
    """What must be said beside the numbers."""
    job, axle = chosen.job, chosen.job.axle
    said = [*now.blanks.notes, *now.boss.mesh.notes]
    if job.gears.measured.toe_height is not None:
        said.remove(ESTIMATED)
    if job.case.material != "aluminium" or _aluminium(job):
        said.insert(0, FACTS[Material(job.case.material)].advice)
    said += _contradicted(chosen)
    if axle.hand is None:
        said.append("the hand of the axle is not given: places may lie on either side, and the closer side is answered")
    if chosen.placement.disagreement:
        said.append(chosen.placement.disagreement)
    said += _outside(chosen)
    said += missing(job)
    if pinion.lower_mm <= 0:
        said.append("the pinion's toe end runs into the boss's end face: check the pinion's length and the end face")
    stub = axle.pinion_stub_diameter
    root = 2 * now.blanks.pinion.toe_root_radius_mm
    if stub and root < stub.value:
        size = f"{show_both(root, job.units)} against {show_both(stub.value, job.units)}"
        said.append(f"the pinion's root circle at the toe is smaller than its pilot stub ({size})")
    if job.case.wall_in_old_scallop is not None:
        wall = show_both(job.case.wall_in_old_scallop.value, job.units, rounding="down")
        said.append(f"the case was ground before: {wall} of wall in the old scallop, and no more counts")
    if job.case.bore in ("sleeved", "opened"):
        said.append(f"the pilot bore was {job.case.bore}: its wall is not what was cast")
    return tuple(text for text in said if text)
