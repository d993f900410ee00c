"""check(job): one job from its numbers to its answer. Joins and chooses; every number comes from a layer below."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from functools import partial

from geartrack.assembly import Assembly, Plan, assemble, closer_by, for_pair, plan, turning_bodies
from geartrack.clearance import Gap, axial_retreat, boss_gap, gap_by_body, pinion_gap
from geartrack.frame import Hand, polar
from geartrack.gearset.teeth import one_pair
from geartrack.inputs import running_inputs
from geartrack.job import Job
from geartrack.quantity import Quantity
from geartrack.relief import wall_before
from geartrack.spread import Range, worst_case
from geartrack.study.answer import Answer, Place
from geartrack.study.cuts import cuts_for, minimum_wall, work_for
from geartrack.study.judge import alternatives, depth_may_be_given, facts, notes
from geartrack.verdict import decide

ON_LINE = 0.02  # of the radius: nearer to straight up or down than this is neither toward nor away


def check(job: Job) -> Answer:
    """Does this job's gear set touch the boss, where, how sure is it, and what has to go?

    Where the hand of the axle is not given, both hands are worked: the closer one is answered, and the range takes in
    the other's. Raises InputError for whatever the job gets wrong.
    """
    pair = one_pair(job.gears.teeth)
    hands = [job.axle.hand] if job.axle.hand else list(Hand)
    worked = [(chosen, *ranged_gap(chosen)) for chosen in (plan(job, pair, hand) for hand in hands)]
    chosen, now, gap, found = min(worked, key=lambda each: each[3].low)
    found = Range(min(each[3].low for each in worked), max(each[3].high for each in worked), found.shares)
    return _answer(chosen, now, gap, found)


def with_teeth(job: Job, typed: str) -> Job:
    """The job with another tooth pair or ratio; the job itself where that is its own pair."""
    pair = one_pair(typed, where="--teeth")
    return job if pair == one_pair(job.gears.teeth) else for_pair(job, pair)


def ranged_gap(chosen: Plan) -> tuple[Assembly, Gap, Range]:
    """A plan's nominal assembly, its certified gap, and the gap's low to high, the bounds included."""
    now = assemble(chosen)
    gap = _less(boss_gap(now.boss, now.section), closer_by(chosen))
    found = worst_case(partial(_gap_mm, chosen), chosen.moving, gap.nominal_mm)
    below, above = gap.nominal_mm - gap.lower_mm, gap.upper_mm - gap.nominal_mm
    return now, gap, Range(found.low - below, found.high + above, found.shares)


def _less(gap: Gap, by_mm: float) -> Gap:
    """The gap of a boss whose outside stands this much further out all round than its mesh."""
    lower, upper, nominal = (value - by_mm for value in (gap.lower_mm, gap.upper_mm, gap.nominal_mm))
    return replace(gap, lower_mm=lower, upper_mm=upper, nominal_mm=nominal)


def _gap_mm(chosen: Plan, values: Mapping[str, float]) -> float:
    moved = assemble(chosen, values)
    return boss_gap(moved.boss, moved.section).nominal_mm - closer_by(chosen, values)


def _answer(chosen: Plan, now: Assembly, gap: Gap, found: Range) -> Answer:
    job = chosen.job
    load = running_inputs(job)
    running_low = found.low + worst_case(lambda toward: -sum(toward.values()), load, 0.0).low
    bodies = turning_bodies(job)
    before = wall_before(now.boss)
    minimum = minimum_wall(job, before)
    place = _place(now, gap)
    pinion = pinion_gap(now.boss, now.blanks.pinion.section)
    cuts = cuts_for(chosen, now, gap, found, minimum)
    verdict = decide(facts(chosen, found, running_low, cuts, before, minimum, place))
    wanted = {"target.gap": job.target.gap, "target.allowance": job.target.allowance, "case.minimum_wall": minimum}
    return Answer(
        job=job,
        pair=chosen.pair,
        hand=job.axle.hand,
        inputs={**chosen.inputs, **_back_face(job), **load, "boss.bore_diameter": job.boss.bore_diameter, **wanted},
        blanks=now.blanks,
        section=now.section,
        bodies=bodies,
        placement=chosen.placement,
        boss=now.boss,
        gap=gap,
        by_body={"ring": gap, **gap_by_body(now.boss, {body.name: body for body in bodies})},
        place=place,
        target_mm=job.target.gap.value,
        band=found,
        running_low_mm=running_low,
        axial_retreat_mm=axial_retreat(now.boss, now.section) if gap.lower_mm < 0 else 0.0,
        minimum_wall=minimum,
        wall_before=before,
        cuts=cuts if depth_may_be_given(job) else None,
        pinion_gap=pinion,
        verdict=verdict,
        work=work_for(job, cuts),
        alternatives=alternatives(chosen, now, verdict, minimum),
        notes=notes(chosen, now, gap, pinion),
    )


def _back_face(job: Job) -> dict[str, Quantity]:
    """The back face as read: it is in the weighed height of the toe tips, and shown beside it."""
    read = job.gears.measured.back_face
    return {"gears.measured.back_face": read} if read else {}


def _place(now: Assembly, gap: Gap) -> Place:
    seat = now.boss.seat
    station, radius, clock = (float(v) for v in polar(seat.to_boss(gap.point)))
    across = float(gap.point[1]) - seat.offset_mm
    on_line = seat.offset_mm == 0 or abs(across) < ON_LINE * radius
    return Place(abs(station), radius, clock, float(gap.point[0]), None if on_line else across > 0)
