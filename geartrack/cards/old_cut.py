"""What would have to go for the new set: the reliefs of the family's middle boss and of the two at its ends."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from geartrack.boss.mesh import Bore, PlacedBoss
from geartrack.boss.parts import Cut, Cylinder, boss_from_parts
from geartrack.cards.difference import Member, NewGap
from geartrack.frame import Hand, Seat
from geartrack.gearset.blank import GearDesign, blanks
from geartrack.gearset.defaults import default_design
from geartrack.gearset.measured import MeasuredRing, measured_section
from geartrack.relief import relief, stop_clearance, wall_left
from geartrack.section import Section
from geartrack.spread import Range, clearances

LENGTH_OVER_RING = 0.1  # of a usual boss; from memory
LEAD_MM = 1.0  # of the bearing seat, in from each end; from memory
_BORE_OVER_RADIUS = 0.5  # where no wall was read: out of the cut's way, and no wall is told from it
_LEAST_BORE_MM = 15.0
_OVER_STUB_MM = 1.0


@dataclass(frozen=True)
class Depths:
    """Depth toward the pinion as calculated, at least and at most, the wall left by each cut, and STOP; all in mm.

    As calculated: the middle boss at the wanted gap. Least: the boss of the widest gap at its high end; most: the one
    of the tightest gap at its low end. volumes_mm3: removed, least to most. Walls and stop_mm are None where no wall
    was read; stop_mm holds to the minimum wall.
    """

    depth_mm: float
    least_mm: float
    most_mm: float
    volumes_mm3: tuple[float, float, float]
    wall_mm: float | None
    wall_low_mm: float | None
    wall_high_mm: float | None
    stop_mm: float | None


def depths(
    found: NewGap,
    *,
    wall_mm: float | None,
    stub_mm: float,
    minimum_mm: float,
    target_mm: float,
    allowance_mm: float,
) -> Depths:
    """The least cut for the wanted gap on the middle boss and at both ends of the answer's range.

    wall_mm: thinnest wall beside the tightest spot, None where not read; stub_mm: the pinion's stub in the bore, 0
    where not known; minimum_mm: least wall to leave.
    """
    ring = new_ring(found)
    tightest, widest = found.members[0], found.members[-1]
    wanted = [
        (widest, clearances(target_mm, widest.gap_mm, Range(widest.low_mm, widest.high_mm, ()))[0]),
        (found.middle, target_mm),
        (tightest, clearances(target_mm, tightest.gap_mm, Range(tightest.low_mm, tightest.high_mm, ()))[2]),
    ]
    bosses = [boss_of(found, member, bore_diameter_mm(member, wall_mm, stub_mm)) for member, _ in wanted]
    cuts = [relief(boss, ring, clearance) for boss, (_, clearance) in zip(bosses, wanted, strict=True)]
    least, middle, most = (cut.depth_radial_max_mm for cut in cuts)
    volumes = (cuts[0].volume_mm3, cuts[1].volume_mm3, cuts[2].volume_mm3)
    if wall_mm is None:
        return Depths(middle, least, most, volumes, None, None, None, None)
    walls = [wall_left(boss, ring, clearance).left_mm for boss, (_, clearance) in zip(bosses, wanted, strict=True)]
    stop = stop_clearance(
        bosses[2], ring, clearance_mm=wanted[2][1], allowance_mm=allowance_mm, minimum_wall_mm=minimum_mm
    )
    deepest = relief(bosses[2], ring, stop.clearance_mm).depth_radial_max_mm
    return Depths(middle, least, most, volumes, walls[1], walls[2], walls[0], deepest)


def boss_of(found: NewGap, member: Member, bore_mm: float) -> PlacedBoss:
    """A member as a solid in its place with a pilot bore of this diameter; the hand does not matter to it."""
    length = LENGTH_OVER_RING * found.readings.ring_diameter.value
    parts: list[Cylinder | Cut] = [Cylinder(2 * member.radius_mm, 0.0, length)]
    if member.flat_mm is not None:
        parts.append(Cut(member.flat_clock, member.flat_mm, 0.0, length))
    bore = Bore(bore_mm, length, LEAD_MM, length - LEAD_MM)
    seat = Seat(found.readings.offset.value, member.end_face_mm, Hand.BELOW)
    return PlacedBoss(boss_from_parts(parts, bore), seat)


def bore_diameter_mm(member: Member, wall_mm: float | None, stub_mm: float) -> float:
    """The pilot bore that leaves the wall read [mm], larger than the pinion's stub; out of the way if none was read."""
    outside = member.radius_mm if member.flat_mm is None else member.flat_mm
    inside = _BORE_OVER_RADIUS * outside if wall_mm is None else outside - wall_mm
    return max(2 * inside, stub_mm + _OVER_STUB_MM, _LEAST_BORE_MM)


def new_ring(found: NewGap) -> Section:
    """The new ring's teeth in their place, usual values for what was not read; behind the tooth roots nothing is drawn.

    What lies behind them was not asked for, and the gap is that of the toe.
    """
    read = found.readings
    usual = default_design(read.new, read.ring_diameter.value, read.offset.value)
    value = {name: quantity.value for name, quantity in usual.items()}
    made = blanks(
        GearDesign(
            pair=read.new,
            ring_diameter_mm=read.ring_diameter.value,
            offset_mm=read.offset.value,
            face_width_mm=value["face_width"],
            pinion_spiral=value["pinion_spiral"],
            cutter_radius_mm=value["cutter_radius"],
        )
    )
    across = None
    if read.toe_diameters:
        odd = np.cos(np.pi / (2 * read.new.ring)) if read.new.ring % 2 else 1.0
        across = read.toe_diameters[1].value * float(odd)
    behind = MeasuredRing(toe_inside_diameter_mm=across, bore_diameter_mm=1.99 * made.ring.toe_radius_mm)
    return measured_section(made, behind, toe_tip_height_mm=found.new_tip_mm)
