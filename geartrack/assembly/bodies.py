"""Ring and boss in place, for any values of a plan's inputs."""

from __future__ import annotations

from functools import lru_cache
from typing import Any

import numpy as np

from geartrack.allowances import backlash_factor, pinion_factor, with_radial_runout, with_runout
from geartrack.assembly.model import MODEL, NO_VALUES, WEIGHED, Assembly, Plan, Values
from geartrack.assembly.walls import outside_in_place
from geartrack.boss.from_job import AsRead, boss_mesh
from geartrack.boss.mesh import PlacedBoss
from geartrack.errors import refuse
from geartrack.frame import Seat
from geartrack.gearset.blank import GearDesign, blanks
from geartrack.gearset.depth import Taper
from geartrack.gearset.measured import MeasuredRing, measured_section
from geartrack.inputs import MEASURED, RUNNING
from geartrack.job import Boss, Job
from geartrack.section import Section
from geartrack.tolerances import TOLERANCES

DESIGN = {
    "axle.ring_diameter": "ring_diameter_mm",
    "axle.offset": "offset_mm",
    "gears.face_width": "face_width_mm",
    "gears.pinion_spiral": "pinion_spiral",
    "gears.cutter_radius": "cutter_radius_mm",
    "gears.depth_factor": "depth_factor",
    "gears.addendum_factor": "addendum_factor",
    "gears.clearance_factor": "clearance_factor",
    "gears.toe_end_angle": "toe_end_angle",
    "gears.toe_chamfer": "toe_chamfer_mm",
    "gears.tip_chamfer": "tip_chamfer_mm",
}
"""Input of a plan -> field of GearDesign."""

SEATED = (
    "axle.offset",
    "boss.end_face",
    "case.outside_off_centre_across",
    "case.bore_off_axis_across",
    "case.outside_off_centre_toward",
    "case.bore_off_axis_toward",
)
"""Inputs of a plan that move the boss's seat."""

ring_and_pinion = lru_cache(maxsize=64)(blanks)  # most inputs leave the design as it is


def assemble(plan: Plan, values: Values = NO_VALUES) -> Assembly:
    """Ring and boss for these values, every other input at its own; see Plan for the units."""
    made = ring_and_pinion(design(plan, values))
    value = all_values(plan, values)
    toe_tip = value[WEIGHED] if WEIGHED in plan.inputs else made.ring.toe_tip_height_mm + value[MODEL]
    section = measured_section(made, measured(plan, values), toe_tip_height_mm=toe_tip)
    away = backlash_factor(made.pitch) * value["running.backlash"]
    away += pinion_factor(made.pitch) * value["running.pinion_moved"]
    section = section.moved(dz_mm=away - sum(values.get(name, 0.0) for name in RUNNING))
    if value["running.runout"]:
        section = with_runout(section, value["running.runout"])
    if value["running.radial_runout"]:
        section = with_radial_runout(section, value["running.radial_runout"])
    placed = placed_boss(plan.job.boss, plan.readings, value["boss.edge_break"], seat(plan, values))
    return Assembly(made, section, outside_in_place(plan, placed))


def seat(plan: Plan, values: Values) -> Seat:
    """Where the boss sits, for these values."""
    value = all_values(plan, values)
    return Seat(
        value["axle.offset"],
        value["boss.end_face"],
        plan.hand,
        value["case.outside_off_centre_across"] + value["case.bore_off_axis_across"],
        value["case.outside_off_centre_toward"] + value["case.bore_off_axis_toward"],
    )


def turning_bodies(job: Job) -> tuple[Section, ...]:
    """What else turns with the ring, as sections; a body's points may be listed either way round."""
    from shapely import Polygon

    bodies = []
    for body in job.turning:
        points = np.array(body.section)
        r, z = points.T
        if not Polygon(points).is_valid:
            right = "points in order round the body, their lines never crossing"
            raise refuse(f"turning, {body.name}", "its section crosses itself", right)
        forward = np.sum(r * np.roll(z, -1) - np.roll(r, -1) * z) > 0
        bodies.append(Section(points if forward else points[::-1].copy(), (body.name,) * len(points), body.name))
    return tuple(bodies)


def closer_by(plan: Plan, values: Values = NO_VALUES) -> float:
    """How much further out the boss stands all round than its mesh: its size, and what lies between readings.

    Growing a surface evenly by this much takes exactly as much off the gap [mm].
    """
    value = all_values(plan, values)
    return value["case.outside_size"] + value["boss.readings"]


@lru_cache(maxsize=40)
def placed_boss(
    boss: Boss, readings: AsRead | None, edge_break_mm: float, seat: Seat, facet_mm: float = TOLERANCES.facet_mm
) -> PlacedBoss:
    """The boss in its seat, made once, the same object again; lengths as `boss_mesh` has them [mm]."""
    return PlacedBoss(boss_mesh(boss, readings, edge_break_mm, facet_mm), seat)


def all_values(plan: Plan, values: Values) -> dict[str, float]:
    """Every input's value, those given in place of their own; see Plan for the units."""
    return {name: quantity.value for name, quantity in plan.inputs.items()} | dict(values)


def design(plan: Plan, values: Values) -> GearDesign:
    """The gear design for these values."""
    value = all_values(plan, values)
    fields: dict[str, Any] = {field: value[name] for name, field in DESIGN.items()}
    return GearDesign(pair=plan.pair, taper=Taper(plan.job.gears.taper), **fields)


def measured(plan: Plan, values: Values) -> MeasuredRing:
    """What was read off the ring, for these values."""
    value = all_values(plan, values)
    return MeasuredRing(**{f"{name}_mm": value.get(f"gears.measured.{name}") for name in MEASURED})
