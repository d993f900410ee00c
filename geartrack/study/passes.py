"""The cut in passes: how far each goes, what the gap should read after it, what is left to take, where to stop.

A pass is never worked as a length taken off: it is the least cut for one clearance, and clearances are chosen so that
the deepest new cut of each is no more than a chosen depth (relief.steps). A gap that was read after a pass says how
much nearer the ring stands than calculated; that much is added to the clearance, and what is left to take is the cut
for it less the cut made so far.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from geartrack.errors import refuse
from geartrack.materials import FACTS, Material
from geartrack.quantity import Quantity
from geartrack.relief import Relief, new_cut, relief, wall_left
from geartrack.study.answer import Answer
from geartrack.study.course import HEAVIEST_MM, SMALL_MM, Course
from geartrack.study.grindable import cuts_to_grind, stop_of
from geartrack.units import show_both

State = Literal["cut", "read", "done", "stop"]


@dataclass(frozen=True)
class Pass:
    """One pass, as the least cut for a clearance after the one before it.

    clearance_mm: cut for, in the geometry as calculated. new_depth_mm: deepest new cut toward the bore's axis, at
    station_mm and clock [rad]. depth_mm: deepest from as cast to here. area_mm2: of the boss's surface that is gone.
    volume_mm3, volume_error_mm3, mass_g: taken by this pass. wall_left_mm: after it. reads_mm, reads_low_mm,
    reads_high_mm: what the gap should read after it. if_short: taken only if the gap still reads short. read: the gap
    that was read after it.
    """

    number: int
    clearance_mm: float
    new_depth_mm: float
    station_mm: float
    clock: float
    depth_mm: float
    area_mm2: float
    volume_mm3: float
    volume_error_mm3: float
    mass_g: float
    wall_left_mm: float
    reads_mm: float
    reads_low_mm: float
    reads_high_mm: float
    if_short: bool
    read: Quantity | None = None


@dataclass(frozen=True)
class PassPlan:
    """The passes that were made and those that are left, from the gap as calculated or as last read.

    why: how the depth of a pass was chosen. state: "cut" (there is more to take), "read" (all is cut that was planned:
    read the gap), "done" (the gap wanted is there) or "stop" (STOP is reached and it is not).
    cut_mm: the clearance cut for so far. nearer_mm: how much nearer the ring stands than calculated by the last
    reading, give or take nearer_spread_mm; 0 where none was read. to_mm, hold_mm: clearances that give the gap wanted,
    and hold it at the low end; never past stop_mm, the clearance of STOP, whose cut is stop_depth_mm deep.
    left_depth_mm: deepest new cut from now to to_mm; left_mass_g [g] with left_volume_mm3: what that takes.
    gap_at_stop_mm: the gap to expect where STOP is reached. stop_first: STOP comes before the gap wanted.
    flagged: what does not go together.
    """

    answer: Answer
    why: str
    state: State
    made: tuple[Pass, ...]
    left: tuple[Pass, ...]
    cut_mm: float
    nearer_mm: float
    nearer_spread_mm: float
    to_mm: float
    hold_mm: float
    stop_mm: float
    stop_depth_mm: float
    left_depth_mm: float
    left_volume_mm3: float
    left_mass_g: float
    gap_at_stop_mm: float
    stop_first: bool
    flagged: tuple[str, ...]


def pass_plan(
    answer: Answer, *, depth_each_mm: float | None = None, readings: Sequence[Quantity] = (), after: int | None = None
) -> PassPlan:
    """The passes of an answer's cut, and what is left of it.

    depth_each_mm: the deepest new cut of a pass [mm]; None for the fewest even ones of no more than 0.010 in.
    readings: the gap as read at fit checks, in order; 0 where the ring touched, which says only that the gap is no more
    than that. A reading without a give or take has a feeler's.
    after: how many passes were made when the first was read, 1 if not said; 0 for a gap read before any. Each further
    reading stands for one pass more, as planned after the reading before it.
    Raises InputError where there is nothing to grind by, or more passes are said than were planned.
    """
    if depth_each_mm is not None and not depth_each_mm > SMALL_MM:
        raise refuse("", f"a pass {depth_each_mm:g} mm deep", "more than nothing")
    course = Course.begun(answer, depth_each_mm)
    course = course.made_more((1 if readings else 0) if after is None else after)
    for number, reading in enumerate(readings):
        course = (course.made_more(1) if number else course).told(reading)
    return _plan(course)


def _plan(course: Course) -> PassPlan:
    answer = course.answer
    enough = course.now is not None and course.now.value >= answer.target_mm - SMALL_MM
    ahead = [] if enough else course.ahead()
    stopped = not enough and course.cut_mm >= course.stop_mm - SMALL_MM
    to = min(course.to_mm, course.stop_mm)
    expected = [*course.expected, *(course.reads(clearance) for clearance, _ in ahead)]
    rows = _rows(answer, [*course.cuts, *ahead], expected, course)
    made, left = rows[: len(course.cuts)], rows[len(course.cuts) :]
    main = [each for each in left if not each.if_short]
    volume = sum(each.volume_mm3 for each in main)
    deepest = new_cut(answer.boss, answer.section, from_mm=course.cut_mm, to_mm=to) if main else None
    return PassPlan(
        answer=answer,
        why=_why(course, main or left),
        state="done" if enough else "stop" if stopped else "cut" if main else "read",
        made=made,
        left=left,
        cut_mm=course.cut_mm,
        nearer_mm=course.nearer_mm,
        nearer_spread_mm=course.spread[0] if course.placed else 0.0,
        to_mm=to,
        hold_mm=min(course.hold_mm, course.stop_mm),
        stop_mm=course.stop_mm,
        stop_depth_mm=stop_of(cuts_to_grind(answer)).depth_radial_max_mm,
        left_depth_mm=deepest.depth_mm if deepest else 0.0,
        left_volume_mm3=volume,
        left_mass_g=volume * _density(answer),
        gap_at_stop_mm=course.reads(course.stop_mm)[0],
        stop_first=not enough and course.to_mm > course.stop_mm + SMALL_MM,
        flagged=course.flagged,
    )


def _rows(
    answer: Answer,
    cuts: Sequence[tuple[float, bool]],
    expected: Sequence[tuple[float, float, float]],
    course: Course,
) -> tuple[Pass, ...]:
    rows: list[Pass] = []
    before = Relief(answer.gap.nominal_mm + course.grown_mm)
    for number, ((clearance, if_short), reads) in enumerate(zip(cuts, expected, strict=True), 1):
        cut = relief(answer.boss, answer.section, clearance)
        deepest = new_cut(answer.boss, answer.section, from_mm=before.clearance_mm, to_mm=clearance)
        taken = cut.volume_mm3 - before.volume_mm3
        rows.append(
            Pass(
                number,
                clearance,
                *(deepest.depth_mm, deepest.station_mm, deepest.clock),
                cut.depth_radial_max_mm,
                cut.area_mm2,
                taken,
                cut.volume_error_mm3 + before.volume_error_mm3,
                taken * _density(answer),
                wall_left(answer.boss, answer.section, clearance).left_mm,
                *reads,
                if_short,
                course.read[number - 1] if number <= len(course.read) else None,
            )
        )
        before = cut
    return tuple(rows)


def _density(answer: Answer) -> float:
    return FACTS[Material(answer.job.case.material)].density_g_mm3


def _why(course: Course, passes: Sequence[Pass]) -> str:
    """How the depth of a pass was chosen."""
    units = course.answer.job.units
    if course.depth_mm is not None:
        return f"passes of {show_both(course.depth_mm, units)} as asked for, the last takes what is left"
    if not passes:
        return ""
    deepest = max(each.new_depth_mm for each in passes)
    count = len([each for each in passes if each.if_short == passes[0].if_short])
    even = f"{count} even passes, new cut {show_both(deepest, units, rounding='up')} at the deepest"
    most = show_both(HEAVIEST_MM, units)
    return f"{even if count > 1 else even.replace('even passes', 'pass')}: the fewest of no more than {most} each"
