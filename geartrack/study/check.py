"""check(job): one job from its numbers to its answer. Joins and chooses; every number comes from a layer below."""

from __future__ import annotations

from dataclasses import dataclass, replace

from geartrack.assembly import Assembly, Plan, assemble, closer_by, for_pair, plan, running_load, turning_bodies
from geartrack.clearance import Gap, axial_retreat, boss_gap, gap_by_body, pinion_gap
from geartrack.frame import Hand, polar
from geartrack.gearset.teeth import one_pair
from geartrack.job import Job
from geartrack.quantity import Quantity
from geartrack.relief import wall_before
from geartrack.spread import (
    Band,
    NextReading,
    Posterior,
    Sampling,
    drawn_band,
    next_readings,
    placed_by_draws,
    simple_band,
    with_the_cut,
)
from geartrack.study.answer import Answer, Place
from geartrack.study.cuts import cuts_for, minimum_wall, work_for
from geartrack.study.judge import alternatives, depth_may_be_given, facts, notes
from geartrack.verdict import decide

ON_LINE = 0.02  # of the radius: nearer to straight up or down than this is neither toward nor away


def check(job: Job, sampling: Sampling | None = None) -> Answer:
    """Does this job's gear set touch the boss, where, how sure is it, and what has to go?

    sampling: how low to high is drawn; None takes the straight sum of all limits instead, which is quicker and wider.
    Where the hand of the axle is not given, both hands are worked: the closer one is answered, and the range takes in
    the other's. Raises InputError for whatever the job gets wrong.
    """
    pair = one_pair(job.gears.teeth)
    hands = [job.axle.hand] if job.axle.hand else list(Hand)
    worked = [_worked(plan(job, pair, hand), sampling) for hand in hands]
    closer = min(worked, key=lambda each: each.band.low)
    low, high = min(each.band.low for each in worked), max(each.band.high for each in worked)
    margin, guard = max(each.band.margin for each in worked), max(each.band.guard for each in worked)
    return _answer(replace(closer, band=replace(closer.band, low=low, high=high, margin=margin, guard=guard)))


@dataclass(frozen=True, eq=False)
class _Worked:
    """One hand's plan with its nominal bodies, gap, band, and the readings still to take (none without draws)."""

    plan: Plan
    now: Assembly
    gap: Gap
    band: Band
    next: tuple[NextReading, ...] | None


def _worked(chosen: Plan, sampling: Sampling | None) -> _Worked:
    if sampling is None:
        now, gap, band = ranged_gap(chosen)
        return _Worked(chosen, now, gap, with_the_cut(chosen, now, gap, band, None), None)
    chosen, found = placed_by_draws(chosen, sampling)
    chosen, now, gap, band = _drawn(chosen, found, sampling)
    further = next_readings(chosen, found, chosen.job.target.gap.value)
    return _Worked(chosen, now, gap, with_the_cut(chosen, now, gap, band, found), further)


def _drawn(chosen: Plan, found: Posterior, sampling: Sampling) -> tuple[Plan, Assembly, Gap, Band]:
    now, gap = nominal_gap(chosen)
    return chosen, now, gap, drawn_band(chosen, gap, chosen.job.target.gap.value, found, sampling)


def with_teeth(job: Job, typed: str) -> Job:
    """The job with another tooth pair or ratio; the job itself where that is its own pair."""
    pair = one_pair(typed, where="--teeth")
    return job if pair == one_pair(job.gears.teeth) else for_pair(job, pair)


def ranged_gap(chosen: Plan, sampling: Sampling | None = None) -> tuple[Assembly, Gap, Band]:
    """A plan's nominal assembly, its certified gap, and the gap's low to high, drawn or by the straight sum."""
    if sampling is not None:
        return _drawn(*placed_by_draws(chosen, sampling), sampling)[1:]
    now, gap = nominal_gap(chosen)
    return now, gap, simple_band(chosen, gap)


def nominal_gap(chosen: Plan) -> tuple[Assembly, Gap]:
    """A plan's nominal assembly and its certified gap."""
    now = assemble(chosen)
    return now, _less(boss_gap(now.boss, now.section), closer_by(chosen))


def _less(gap: Gap, by_mm: float) -> Gap:
    """The gap of a boss whose outside stands this much further out all round than its mesh."""
    lower, upper, nominal = (value - by_mm for value in (gap.lower_mm, gap.upper_mm, gap.nominal_mm))
    return replace(gap, lower_mm=lower, upper_mm=upper, nominal_mm=nominal)


def _answer(worked: _Worked) -> Answer:
    chosen, now, gap, found = worked.plan, worked.now, worked.gap, worked.band
    job = chosen.job
    load = running_load(chosen)
    bodies = turning_bodies(job)
    before = wall_before(now.boss)
    minimum = minimum_wall(job, before)
    place = _place(now, gap)
    pinion = pinion_gap(now.boss, now.blanks.pinion.section)
    cuts = cuts_for(chosen, now, gap, found, minimum)
    verdict = decide(facts(chosen, found, cuts, before, minimum, place, worked.next))
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
        running_low_mm=found.running_low,
        next_readings=() if verdict.forbids else worked.next or (),
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
