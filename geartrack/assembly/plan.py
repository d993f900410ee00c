"""A job's numbers put together: every input with its limits, and the evidence on where the teeth run, weighed."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from geartrack.allowances import backlash_factor, pinion_factor
from geartrack.assembly.bodies import assemble, closer_by, design, ring_and_pinion
from geartrack.assembly.many import many
from geartrack.assembly.model import MODEL, NO_VALUES, WEIGHED, Plan, Values
from geartrack.assembly.places import at_place, by_eye, gap_at
from geartrack.assembly.walls import outside_given_walls, walls_read
from geartrack.boss.from_job import AsRead, as_read, boss_mesh
from geartrack.clearance import boss_gap
from geartrack.errors import InputError, refuse
from geartrack.frame import Hand
from geartrack.gearset.blank import GearBlanks
from geartrack.gearset.place import (
    ADJUSTER_TRAVEL,
    Evidence,
    Placement,
    flange_mismatch,
    from_back_face,
    from_pinion_roots,
    from_pitch_cones,
    old_set_back_face,
    weigh,
)
from geartrack.gearset.teeth import ToothPair, one_pair
from geartrack.inputs import EDGE_BREAK, EXACT, SETTING, geometry_inputs
from geartrack.job import BarToToe, Gears, Job, Taken, locate
from geartrack.quantity import Origin, Quantity, give_or_take
from geartrack.readings import (
    FLATTEST,
    AgainstBoss,
    OnBoss,
    Way,
    against_boss,
    from_bar,
    from_boss,
    likely_slips,
    pinned,
)


def for_pair(job: Job, pair: ToothPair) -> Job:
    """The job with another tooth pair; what was read or typed of its own set's teeth does not carry over, walls do."""
    gears = job.gears
    kept = {name: getattr(gears, name) for name in ("face_width", "pinion_spiral", "cutter_radius", "taper", "kind")}
    walls = tuple(each for _, each in walls_read(job))
    return job.model_copy(update={"gears": Gears(teeth=str(pair), **kept), "readings": walls})


def plan(job: Job, pair: ToothPair, hand: Hand) -> Plan:
    """All inputs of a job's geometry, with the evidence on where the teeth run weighed.

    Raises InputError where carrier and set do not belong together, before anything else is worked out.
    """
    _check_flange(job)
    table = as_read(job)
    _check_reach(job, table)
    first, nominal, way = _first(job, pair, hand, table)
    evidence = _evidence(first, nominal, way)
    placed = placed_by(first, weigh(evidence)) if len(evidence) > 1 else replace(first, placement=weigh(evidence))
    tips = placed.placement.toe_tip.value if len(evidence) > 1 else nominal.ring.toe_tip_height_mm
    read = tuple(by_eye(placed, each, tips) for each in _against(job, "this set", way))
    old = _old_set(job, hand, table)
    placed = replace(
        placed, heights=tuple(evidence[1:]), against=read, old=old, from_old=_from_old(job) if old else None
    )
    return _pinned(placed, read) if read else placed


def _first(job: Job, pair: ToothPair, hand: Hand, table: AsRead | None) -> tuple[Plan, GearBlanks, Way]:
    """The plan by the pitch cones alone, its nominal gears, and how its readings reach the final setting."""
    edge_break = (job.boss.edge_break or EDGE_BREAK).value
    mesh = boss_mesh(job.boss, table, edge_break)
    outside = outside_given_walls(job, geometry_inputs(job, pair, table, mesh.interpolation_mm), mesh)
    inputs, cones = outside.inputs, weigh([from_pitch_cones(0.0)])
    first = Plan(
        *(job, pair, hand, inputs, cones, table),
        correlated=outside.correlated,
        outside=outside.moved,
        flagged=outside.flagged,
    )
    nominal = ring_and_pinion(design(first, NO_VALUES))
    factor, running = float(backlash_factor(nominal.pitch)), job.running
    pinion = float(pinion_factor(nominal.pitch)) * inputs["running.pinion_moved"].value
    later = factor * inputs["running.backlash"].value + pinion
    return first, nominal, Way(factor, later, running.backlash_now, running.backlash_final, pinion)


def _old_set(job: Job, hand: Hand, table: AsRead | None) -> Plan | None:
    """The old set's plan with what was read with it fitted; None where nothing was.

    Its toe tips run where they did while it was read, so no final setting comes into it.
    """
    taken = _taken(job, "old set")
    if not taken:
        return None
    pair, known = one_pair(job.old_gears.teeth, where="old_gears.teeth"), job.old_gears
    gears = Gears(teeth=str(pair), face_width=known.face_width, pinion_spiral=known.pinion_spiral)
    first, nominal, _ = _first(job.model_copy(update={"gears": gears}), pair, hand, table)
    way = Way(float(backlash_factor(nominal.pitch)), 0.0, None, None)
    bars = tuple(from_bar(each, way) for each in taken if isinstance(each, BarToToe))
    back, height = job.gears.measured.back_face, known.toe_height
    if back is not None and height is not None and job.gears.measured.back_face_from == "old set":
        bars += (from_back_face(back, height),)
    stood = replace(first, inputs=first.inputs | {"running.pinion_moved": EXACT}, heights=bars)
    tips = nominal.ring.toe_tip_height_mm
    return replace(stood, against=tuple(by_eye(stood, each, tips) for each in _against(job, "old set", way)))


def _against(job: Job, gears: str, way: Way) -> list[AgainstBoss]:
    found = (against_boss(reading, way) for reading in _taken(job, gears))
    return [each for each in found if each]


def _taken(job: Job, gears: str) -> list[Taken]:
    """The readings that were taken with this set of gears fitted."""
    return [reading for reading in job.readings if isinstance(reading, Taken) and reading.gears == gears]


def placed_by(plan: Plan, placement: Placement, absorbed: frozenset[str] = frozenset()) -> Plan:
    """The plan with the height of the toe tips an input of its own."""
    inputs = {name: quantity for name, quantity in plan.inputs.items() if name != MODEL}
    return replace(
        plan, inputs={**inputs, WEIGHED: placement.toe_tip}, placement=placement, absorbed=plan.absorbed | absorbed
    )


def _pinned(plan: Plan, read: Sequence[AgainstBoss]) -> Plan:
    """The plan with readings against the boss weighed in; what the gap over a full turn holds already is absorbed.

    A gap at one place holds what the boss is off by there, not where the teeth come nearest: so it is off by all of
    that too, and nothing is absorbed.
    """
    before = plan.placement
    free = placed_by(plan, before)

    def gap(values: Values) -> float:
        moved = assemble(free, values)
        return boss_gap(moved.boss, moved.section).nominal_mm - closer_by(free, values)

    whole = [each for each in read if each.place is None]
    found = [from_boss(each, lambda height: gap({WEIGHED: height}), before.toe_tip.value) for each in whole]
    held = frozenset(free.inputs) - {WEIGHED, *SETTING}
    apart = [_read_apart(free, each, sorted(held)) for each in read if each.place is not None]
    if not found:
        return placed_by(plan, pinned(before, apart, 0.0))
    slope = max(min(slope for _, slope in found), FLATTEST)
    at = found[0][0].toe_tip.value + whole[0].back.value  # where the gap is the one read
    total = math.sqrt(sum(move**2 for move in _moves(free, sorted(held), at)))
    return placed_by(plan, pinned(before, [*(evidence for evidence, _ in found), *apart], total / slope), held)


def _read_apart(plan: Plan, read: AgainstBoss, held: Sequence[str]) -> Evidence:
    """What a gap at one place says of the toe tips, wider by what the inputs held may move the gap there."""
    evidence, slope = from_boss(read, lambda height: gap_at(plan, read.place, height), plan.placement.toe_tip.value)
    total = math.hypot(*_moves(plan, held, evidence.toe_tip.value + read.back.value, read.place))
    spread = math.hypot(evidence.toe_tip.reach, total / max(slope, FLATTEST))
    return replace(evidence, toe_tip=give_or_take(evidence.toe_tip.value, spread, Origin.MEASURED, read.name))


def _moves(plan: Plan, names: Sequence[str], height: float, place: OnBoss | None = None) -> list[float]:
    """How far each of these inputs moves the gap, or that at a place, at most with the toe tips at a height [mm]."""
    ends = [(name, end) for name in names for end in (plan.inputs[name].low, plan.inputs[name].high)]
    values = {
        name: np.array([end if name == of else plan.inputs[name].value for of, end in ends] + [plan.inputs[name].value])
        for name in names
    }
    worked = at_place(many(plan, values, len(ends) + 1), place)
    low, high = worked.gaps(np.full(len(ends) + 1, height))
    moved = np.abs((low + high)[:-1] - (low + high)[-1]) / 2
    return [float(each) for each in moved.reshape(len(names), 2).max(axis=1)]


def _evidence(plan: Plan, nominal: GearBlanks, way: Way) -> list[Evidence]:
    """Pitch cones, back face, pinion roots and bar to the toe, each as far as the job has it."""
    read = plan.job.gears.measured
    height = nominal.ring.toe_tip_height_mm
    found = [from_pitch_cones(height, inputs_spread_mm=_pitch_cone_spread(plan, height))]
    back = _back_face(plan.job)
    if back is not None and read.toe_height is not None:
        found.append(from_back_face(back, read.toe_height))
    if read.pinion_toe_root_diameter is not None:
        found.append(from_pinion_roots(nominal, read.pinion_toe_root_diameter))
    slips = likely_slips(plan.job, tooth_mm=nominal.ring.whole_depth_heel_mm, toe_tip_mm=height)
    if slips:
        raise InputError(*slips)
    bars = [each for each in _taken(plan.job, "this set") if isinstance(each, BarToToe)]
    return found + [from_bar(reading, way) for reading in bars]


def _pitch_cone_spread(plan: Plan, height: float) -> float:
    """Root sum of squares of what each design input alone does to the pitch cones' toe tip height [mm]."""
    total = 0.0
    for name, quantity in plan.inputs.items():
        if name.startswith(("axle.", "gears.")) and not name.startswith((MODEL, "gears.measured")):
            ends = {quantity.low, quantity.high} - {quantity.value}
            tips = [ring_and_pinion(design(plan, {name: end})).ring.toe_tip_height_mm for end in ends]
            total += max((abs(tip - height) for tip in tips), default=0.0) ** 2
    return math.sqrt(total)


def _back_face(job: Job) -> Quantity | None:
    """Where the back face runs, or None where nothing says so."""
    read = job.gears.measured
    if read.back_face is None or read.back_face_from == "this set":
        return read.back_face
    return _carried_over(job, read.back_face)


def _from_old(job: Job) -> Quantity | None:
    """How much higher this set's toe tips run than the old one's, by both rings' heights on a plate [mm]."""
    old, new = job.old_gears.toe_height, job.gears.measured.toe_height
    carried = _carried_over(job, old) if old and new else None
    return from_back_face(carried, new).toe_tip if carried and new else None


def _carried_over(job: Job, from_old: Quantity) -> Quantity | None:
    """A height by the old set, for this one in the same case; None for an old set of another make of ring."""
    read, axle = job.gears.measured, job.axle
    flanges = (axle.carrier_flange_height, read.old_flange_height)
    if (flanges[0] is None) != (flanges[1] is None) or (job.gears.set != "standard" and None in flanges):
        return None
    return old_set_back_face(
        from_old,
        flange_change=_change(*flanges),
        spacer_change=_change(axle.ring_spacer or EXACT, read.old_ring_spacer or EXACT),
        adjuster_travel=_travel(job),
    )


def _check_reach(job: Job, table: AsRead | None) -> None:
    """A boss that reaches across the ring's centre line cannot be: the ring turns about it."""
    points = boss_mesh(job.boss, table, 0.0).vertices
    along = points[:, 0] + job.boss.end_face.value
    if along.min() < 0 < along.max() and np.hypot(*points.T[1:]).max() > job.axle.offset.value:
        raise refuse(
            locate(job, "boss.end_face"),
            "the boss reaches across the ring's centre line",
            "distance of the boss's pinion-side end face from the ring's centre line, along the pinion",
        )


def _change(new: Quantity | None, old: Quantity | None) -> Quantity:
    if new is None or old is None:
        return EXACT
    return Quantity(new.value - old.value, new.low - old.high, new.high - old.low, new.origin)


def _travel(job: Job) -> Quantity:
    travel = job.axle.adjuster_travel
    return Quantity(0.0, -travel.value, travel.value, travel.origin) if travel else ADJUSTER_TRAVEL


def _check_flange(job: Job) -> None:
    """A set thicker or thinner than standard, a spacer and the carrier's flange must add up (DESIGN 2.3)."""
    axle, gears = job.axle, job.gears
    if axle.carrier_flange_height is None or gears.made_for_flange_height is None:
        return
    extra = gears.set_thickness or EXACT
    if gears.set == "thin":
        extra = Quantity(-extra.value, -extra.high, -extra.low, extra.origin)
    flange_mismatch(
        flange_height=axle.carrier_flange_height,
        made_for=gears.made_for_flange_height,
        ring_spacer=axle.ring_spacer or EXACT,
        set_extra=extra,
        adjuster_travel=_travel(job),
    )
