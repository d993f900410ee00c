"""What brings the ring nearer to the boss in running: load, heat and settling, as lengths off the set-up gap."""

from __future__ import annotations

from geartrack.assembly.bodies import assemble
from geartrack.assembly.model import Plan
from geartrack.clearance import boss_gap
from geartrack.inputs import running_inputs
from geartrack.job import Shift3
from geartrack.quantity import Origin, Quantity
from geartrack.sweep import Pose

DEFLECTION = "running.deflection"


def running_load(plan: Plan) -> dict[str, Quantity]:
    """What the running gap hangs on besides, one-sided, as what each takes off the set-up gap [mm].

    Where the ring's way under load is typed, driving or coasting, as (x, y, z) in the axle frame of the
    arithmetic (+Y is where the pinion lies, whatever the hand), the gap itself turns
    it into what it takes off (DESIGN 5: with their signs, drive and coast apart, the worst taken); a way that leads
    away from the boss takes nothing off.
    """
    load = running_inputs(plan.job)
    ways = [way for way in (plan.job.running.drive, plan.job.running.coast) if way is not None]
    if not ways:
        return load
    worst = max(0.0, *(_taken_off(plan, way) for way in ways))
    return load | {DEFLECTION: Quantity(0.0, 0.0, worst, Origin.TYPED, "the ring's way under load")}


def _taken_off(plan: Plan, way: Shift3) -> float:
    """How much the gap as calculated falls when the ring goes this way [mm]."""
    now = assemble(plan)
    posed = boss_gap(now.boss, now.section, pose=Pose(*way))
    return boss_gap(now.boss, now.section).nominal_mm - posed.nominal_mm
