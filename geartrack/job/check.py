"""What no single value shows: keys that need each other, and sizes that cannot belong to one axle."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Any

from geartrack.job.model import EITHER, Axle, Boss, Case, Gears, OldGears, Running
from geartrack.job.parts import Cone, Cut, Cylinder, Fillet, Pad, Rib, Spanning
from geartrack.job.readings import GapReading, Noted, Taken, TouchReading, WallReading, WindOver
from geartrack.job.setup import Setup, setup_faults
from geartrack.job.shop import Shop, shop_faults
from geartrack.job.source import Steps
from geartrack.job.trace import trace_faults
from geartrack.tolerances import TOLERANCES
from geartrack.units import show_both

Fault = tuple[Steps, str, str]


def cross_checks(tables: Mapping[str, Any]) -> list[Fault]:
    """Every fault between keys: (key, what is wrong, what would be right). Tables that did not read are left out."""
    checks: list[tuple[tuple[str, ...], Callable[..., Iterator[Fault]]]] = [
        (("axle",), _axle),
        (("gears",), _gears),
        (("axle", "gears"), _gears_in_axle),
        (("axle", "boss"), _boss_in_axle),
        (("case",), _case),
        (("boss",), _boss),
        (("setup",), _setup),
        (("shop",), _shop),
    ]
    found = [
        fault
        for names, check in checks
        if all(name in tables for name in names)
        for fault in check(*(tables[name] for name in names))
    ]
    readings, running = tables.get("readings", ()), tables.get("running", Running())
    found += [*_readings(readings, running), *_old_set(readings, tables.get("old_gears", OldGears()))]
    found += _walls(readings, tables["boss"]) if "boss" in tables else ()
    return [*found, *(_gap_places(readings, tables["axle"]) if "axle" in tables else ())]


def _axle(axle: Axle) -> Iterator[Fault]:
    if not math.isclose(axle.shaft_angle.value, math.pi / 2):
        shown = f"{math.degrees(axle.shaft_angle.value):g} deg"
        yield ("axle", "shaft_angle"), f"{shown}: only 90 degrees is in scope", "leave it out, or 90 deg"
    if axle.offset.value >= axle.ring_diameter.value / 2:
        limit = show_both(axle.ring_diameter.value / 2, "in")
        yield ("axle", "offset"), "the pinion would miss the ring", f"less than half the ring diameter, {limit}"


def _gears(gears: Gears) -> Iterator[Fault]:
    if gears.set != "standard" and gears.set_thickness is None:
        yield ("gears", "set_thickness"), f"not given, and the set is {gears.set}", 'such as set_thickness = "0.4 in"'
    if gears.set == "standard" and gears.set_thickness is not None:
        yield ("gears", "set_thickness"), "given, but the set is standard", 'set = "thick" or set = "thin"'
    read = gears.measured
    if read.back_face is not None and read.back_face_from is None:
        right = 'back_face_from = "this set" or "old set"'
        yield ("gears", "measured", "back_face_from"), "not given, and a back face without it places nothing", right


def _gears_in_axle(axle: Axle, gears: Gears) -> Iterator[Fault]:
    face, over, ring = gears.face_width, gears.measured.outside_diameter, axle.ring_diameter.value
    if face is not None and face.value >= 0.4 * ring:
        right = f"less than 0.4 of its diameter, {show_both(0.4 * ring, 'in')}"
        yield ("gears", "face_width"), "too wide for this ring", right
    hypoid = axle.offset.value >= TOLERANCES.bevel_below_mm
    if gears.kind is not None and (gears.kind == "hypoid") != hypoid:
        yield (
            ("gears", "kind"),
            f"{gears.kind}, but the offset is {show_both(axle.offset.value, 'in')}",
            ("a hypoid set has an offset, a bevel set has none"),
        )
    cutter = gears.cutter_radius
    if cutter is not None and not 0.15 * ring <= cutter.value <= 0.7 * ring:
        low, high = show_both(0.15 * ring, "in"), show_both(0.7 * ring, "in")
        yield ("gears", "cutter_radius"), "does not suit this ring", f"{low} to {high}; was its diameter typed?"
    if over is not None and not 0.9 * ring <= over.value <= 1.1 * ring:
        right = f"within a tenth of axle.ring_diameter, {show_both(ring, 'in')}"
        yield ("gears", "measured", "outside_diameter"), "does not belong to this ring", right


def _boss_in_axle(axle: Axle, boss: Boss) -> Iterator[Fault]:
    stub, bore = axle.pinion_stub_diameter, boss.bore_diameter.value
    if stub is not None and stub.value >= bore:
        yield ("axle", "pinion_stub_diameter"), "thicker than the pilot bore", f"less than {show_both(bore, 'in')}"


def _case(case: Case) -> Iterator[Fault]:
    if case.wall_in_old_scallop is not None and not case.ground_before:
        yield ("case", "wall_in_old_scallop"), "given, but the case was not ground before", "ground_before = true"
    for key in ("outside_off_centre", "outside_size", "bore_off_axis"):
        off = getattr(case, key)
        if off is not None and off.value != 0:
            right = f'describe the boss as it is, and type what it may be off by: {key} = "0 mm +/- 0.1 mm"'
            yield ("case", key), f"{show_both(off.value, 'in')}, where a give or take about zero belongs", right


def _gap_places(readings: Sequence[Noted | None], axle: Axle) -> Iterator[Fault]:
    for number, reading in enumerate(readings):
        if not isinstance(reading, GapReading):
            continue
        if reading.clock is not None and axle.hand is None:
            what = "a gap at a clock angle says nothing while the hand of the axle is not given"
            yield ("readings", number, "clock"), what, 'hand = "below" or "above" under [axle]'
        elif reading.station is not None and reading.clock is None:
            what = "says no place without its clock angle"
            yield ("readings", number, "station"), what, 'clock = "1 o\'clock" beside it, or neither'


def _walls(readings: Sequence[Noted | None], boss: Boss) -> Iterator[Fault]:
    depth = boss.bore_depth.value
    for number, reading in enumerate(readings):
        if isinstance(reading, WallReading) and reading.station is not None and reading.station.value > depth:
            right = f"0 to {show_both(depth, 'in')} in from the pinion-side end, as far as the bore runs"
            yield ("readings", number, "station"), "there is no pilot bore there, so no wall", right


def _readings(readings: Sequence[Noted | None], running: Running) -> Iterator[Fault]:
    for number, reading in enumerate(readings):
        steps: Steps = ("readings", number)
        if isinstance(reading, TouchReading) and running.backlash_final is None:
            what = "says nothing without the backlash the ring will run at"
            yield (*steps, "backlash_at_touch"), what, 'backlash_final = "0.008 in" under [running]'
        elif isinstance(reading, WindOver):
            thread = (reading.thread_pitch, reading.notches_per_turn)
            if (reading.travel is None) == (reading.notches is None):
                what = "neither travel nor notches" if reading.travel is None else "both travel and notches"
                yield steps, what, "a dial's travel, or the notches an adjuster was turned, one of them"
            elif reading.notches is not None and None in thread:
                right = 'thread_pitch = "1.5 mm" and notches_per_turn = 24'
                yield (*steps, "notches"), "notches alone are no length", right


def _old_set(readings: Sequence[Noted | None], old: OldGears) -> Iterator[Fault]:
    for number, reading in enumerate(readings):
        if isinstance(reading, Taken) and reading.gears == "old set" and not old.teeth:
            what = "read with the old set, of which nothing is given"
            yield ("readings", number, "gears"), what, 'teeth = "9/35" under [old_gears]'


def _setup(setup: Setup) -> Iterator[Fault]:
    yield from ((("setup", *steps), what, right) for steps, what, right in setup_faults(setup))


def _boss(boss: Boss) -> Iterator[Fault]:
    given = [key for key in EITHER if getattr(boss, key) is not None]
    if len(given) != 1:
        what = f"both {' and '.join(given)}" if given else f"neither {' nor '.join(EITHER)}"
        yield ("boss",), what, f"give the boss as one of these: {', '.join(EITHER)}"
    for key in ("scan_unit", "scan_picks"):
        if getattr(boss, key) is not None and boss.scan is None:
            yield ("boss", key), "given, but no scan is", 'scan = "boss.stl"'
    if boss.scan is not None and boss.edge_break is not None:
        yield ("boss", "edge_break"), "given beside a scan, which shows the edge as it is", "leave it out"
    if boss.trace is not None:
        yield from ((("boss", "trace", key), what, right) for key, what, right in trace_faults(boss.trace))
        if boss.edge_break is not None:
            yield ("boss", "edge_break"), "given beside a trace, which shows the edge or draws it sharp", "leave it out"
        if boss.length is not None and boss.trace.side_view is not None:
            yield ("boss", "length"), "given beside a side view, which shows it", "leave it out"
    seat_from = boss.seat_from.value if boss.seat_from else 0.0
    seat_to = boss.seat_to.value if boss.seat_to else boss.bore_depth.value
    if not seat_from < seat_to <= boss.bore_depth.value:
        yield ("boss", "seat_to"), "the seat does not lie within the bore", "seat_from < seat_to <= bore_depth"
    if boss.parts is not None and not boss.parts:
        yield ("boss", "parts"), "no parts", "at least one cylinder"
    for index, part in enumerate(boss.parts or ()):
        steps: Steps = ("boss", "parts", index)
        if isinstance(part, Spanning) and part.start >= part.end:
            yield (*steps, "to"), "the part ends before it starts", "from less than to, in from the pinion-side end"
        if not isinstance(part, Cut) and _reach(part) <= boss.bore_diameter.value / 2:
            bore = show_both(boss.bore_diameter.value, "in")
            yield steps, "pilot bore larger than the boss", f"the outside must stand out from the bore, {bore}"


def _reach(part: Cylinder | Cone | Pad | Rib | Fillet) -> float:
    """How far from the bore axis a part's outside is, where it is nearest."""
    match part:
        case Cylinder() | Fillet():
            return part.diameter / 2
        case Cone():
            return min(part.diameter_from, part.diameter_to) / 2
        case Pad():
            return part.distance
        case Rib():
            return part.reach


def _shop(shop: Shop) -> Iterator[Fault]:
    yield from ((("shop", *steps), what, right) for steps, what, right in shop_faults(shop))
