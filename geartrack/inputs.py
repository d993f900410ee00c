"""Every input of a job as a quantity: what was typed, and labelled defaults with their spread for the rest."""

from __future__ import annotations

from dataclasses import replace
from math import sqrt

from geartrack.boss.from_job import AsRead
from geartrack.boss.scan.from_scan import Scanned
from geartrack.gearset.defaults import default_design
from geartrack.gearset.teeth import ToothPair
from geartrack.job import TOOLS, Boss, Job
from geartrack.materials import FACTS, Material
from geartrack.quantity import Origin, Quantity, give_or_take
from geartrack.units import parse_length

MEMORY, COMMON = "from memory", "common practice, no source"
EXACT = Quantity(0.0, 0.0, 0.0, Origin.DEFAULT)
STRAIGHT = Quantity(0.0, 0.0, 0.0, Origin.TYPED, "straight bevel")
MEASURED = ("toe_height", "heel_height", "outside_diameter", "toe_inside_diameter")
ANGLES = frozenset({"gears.pinion_spiral", "gears.toe_end_angle"})  # in radians; all others are mm or plain
PLAIN = frozenset({"gears.depth_factor", "gears.addendum_factor", "gears.clearance_factor"})
SETTING = ("running.backlash", "running.pinion_moved", "running.runout", "running.radial_runout")
"""Inputs of how the ring is set and runs: of the set-up gap, and not of where ring and boss are."""
RUNNING = ("running.deflection", "running.heat", "running.settling")


def _about_zero(text: str, source: str) -> Quantity:
    return give_or_take(0.0, parse_length(text), Origin.DEFAULT, source)


def _up_to(text: str, source: str) -> Quantity:
    return Quantity(0.0, 0.0, parse_length(text), Origin.DEFAULT, source)


MODEL = _about_zero("0.5 mm", MEMORY)  # of the toe tip height; without it coverage is tested only against itself
BACKLASH = _about_zero("0.002 in", COMMON)
RUNOUT = _up_to("0.004 in", "published: 0.002 to 0.004 in on car and light truck axles")
RADIAL_RUNOUT = _up_to("0.002 in", MEMORY)
PINION_MOVED = _about_zero("0.002 in", MEMORY)
BORE_OFF_AXIS = _about_zero("0.03 mm", MEMORY)
EDGE_BREAK = _up_to("1.5 mm", MEMORY)
# Boss outside against its bore: measured on this very case, or only known to be a casting of this pattern (DESIGN 5).
OFF_CENTRE = {True: _about_zero("0.05 mm", "as by caliper, this case"), False: _about_zero("0.75 mm", MEMORY)}
SIZE = {True: _about_zero("0.05 mm", "as by caliper, this case"), False: _about_zero("0.5 mm", MEMORY)}
SCANNER = _about_zero("0.05 mm", "a scanner's own error of size, from memory")
CALIPER_MM = TOOLS["caliper"].two_sigma_mm
LEAST_WALL_MM, LEAST_SHARE = 5.0, 0.7
LOAD = {
    "running.deflection": _up_to(
        "0.006 in", "published: ring lift 0.003 and axial 0.003 in, gear-cutter makers' tests"
    ),
    "running.settling": _up_to("0.001 in", MEMORY),
}


def geometry_inputs(job: Job, pair: ToothPair, readings: AsRead | None, readings_mm: float) -> dict[str, Quantity]:
    """What the set-up gap hangs on, by dotted name [mm, rad, plain numbers].

    readings_mm: 2-sigma error of a boss as read or traced [mm]; 0 for one made from parts.
    """
    axle, gears, case, boss = job.axle, job.gears, job.case, job.boss
    inputs = {"axle.ring_diameter": axle.ring_diameter, "axle.offset": axle.offset}
    for name, default in default_design(pair, axle.ring_diameter.value, axle.offset.value).items():
        inputs[f"gears.{name}"] = getattr(gears, name) or default
    if gears.kind == "straight bevel" and gears.pinion_spiral is None:
        inputs["gears.pinion_spiral"] = STRAIGHT
    inputs["gears.model"] = MODEL
    read_off = {name: getattr(gears.measured, name) for name in MEASURED}
    inputs |= {f"gears.measured.{name}": bench_reading(read) for name, read in read_off.items() if read}
    this_case = case.measured == "this case"
    off_centre = case.outside_off_centre or OFF_CENTRE[this_case]
    off_axis = case.bore_off_axis or BORE_OFF_AXIS
    return inputs | {
        "running.backlash": _backlash_change(job),
        "running.pinion_moved": job.running.pinion_moved or PINION_MOVED,
        "running.runout": _from_zero(job.running.runout, RUNOUT),
        "running.radial_runout": _from_zero(job.running.radial_runout, RADIAL_RUNOUT),
        "boss.readings": _between(boss, readings, readings_mm),
        "case.outside_size": case.outside_size or SIZE[this_case],
        "boss.edge_break": boss.edge_break or (EXACT if boss.trace or boss.scan else EDGE_BREAK),
        "boss.end_face": bench_reading(boss.end_face),
        "case.outside_off_centre_across": off_centre,
        "case.outside_off_centre_toward": off_centre,
        "case.bore_off_axis_across": off_axis,
        "case.bore_off_axis_toward": off_axis,
        **(_scanned(job, readings) if isinstance(readings, Scanned) else {}),
    }


def _scanned(job: Job, scan: Scanned) -> dict[str, Quantity]:
    """What a scan is worth: how its bore and its end face were found is what its outside may be off by."""
    case, end_face, along = job.case, bench_reading(job.boss.end_face), scan.pose.along_mm
    if end_face.source != "scan":  # else what the face is off by is in it already
        end_face = replace(end_face, low=end_face.low - along, high=end_face.high + along)
    found = {"across": scan.pose.across_mm, "toward": scan.pose.toward_mm}
    off = {way: case.outside_off_centre or give_or_take(0.0, mm, Origin.MEASURED, "scan") for way, mm in found.items()}
    return {
        "boss.end_face": end_face,
        "case.outside_size": case.outside_size or SCANNER,
        **{f"case.outside_off_centre_{way}": quantity for way, quantity in off.items()},
    }


def _between(boss: Boss, readings: AsRead | None, two_sigma_mm: float) -> Quantity:
    """How far the boss may stand out or in from what was read or traced of it."""
    if readings is None and not two_sigma_mm:
        return EXACT
    source = "trace" if boss.trace else "scan" if boss.scan else "leave-one-out"
    return give_or_take(0.0, two_sigma_mm, Origin.MEASURED, source)


def bench_reading(read: Quantity) -> Quantity:
    """A reading typed without a tool or a give or take, as if a caliper had read it; nothing is read exactly."""
    if read.spread or read.origin is not Origin.TYPED:
        return read
    return give_or_take(read.value, CALIPER_MM, Origin.TYPED, "no tool named, taken as a caliper's")


def running_inputs(job: Job) -> dict[str, Quantity]:
    """What the running gap hangs on besides: how far load, heat and settling bring the ring nearer the boss [mm]."""
    metal = FACTS[Material(job.case.material)]
    defaults = {**LOAD, "running.heat": _up_to(metal.heat_in, metal.heat_source)}
    typed = {name: getattr(job.running, name.removeprefix("running.")) for name in RUNNING}
    return {name: _from_zero(typed[name], defaults[name]) for name in RUNNING}


def minimum_wall_start(wall_now_mm: float) -> Quantity:
    """The minimum wall to start from where none was typed [mm]; never a claim about strength (DESIGN 4)."""
    start = max(LEAST_WALL_MM, LEAST_SHARE * wall_now_mm)
    return give_or_take(start, 0.0, Origin.DEFAULT, "5 mm or 70 % of the wall now, from memory")


def wall_spread_mm(job: Job, read_mm: float = 0.0) -> float:
    """What a wall may be off by: the outside's place, both ways, its size and tracing, and the bore's size [mm].

    read_mm: what a scanned outside may be off by [mm].
    """
    this_case = job.case.measured == "this case"
    off_centre, size = job.case.outside_off_centre or OFF_CENTRE[this_case], job.case.outside_size or SIZE[this_case]
    traced = job.boss.trace.give_mm if job.boss.trace else 0.0
    scanned = read_mm if job.boss.scan else 0.0
    return sqrt(2) * off_centre.reach + size.reach + job.boss.bore_diameter.reach / 2 + traced + scanned


def _from_zero(typed: Quantity | None, default: Quantity) -> Quantity:
    """A typed allowance as one-sided: from nothing up to the typed value and its give or take."""
    return default if typed is None else replace(typed, value=0.0, low=min(0.0, typed.low), high=max(0.0, typed.high))


def _backlash_change(job: Job) -> Quantity:
    """Final backlash less the backlash at which the back face was read [mm]; nothing to change where it was not."""
    now, final = job.running.backlash_now, job.running.backlash_final
    if now is None or final is None or job.gears.measured.back_face_from != "this set":
        return BACKLASH
    spread = max(now.spread + final.spread, BACKLASH.spread if now.spread + final.spread == 0 else 0.0)
    return give_or_take(final.value - now.value, spread, final.origin, final.source)
