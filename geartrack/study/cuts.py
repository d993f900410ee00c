"""What has to go, what wall stays and where to stop, for the gap as calculated and for both ends of its range."""

from __future__ import annotations

from geartrack.assembly import Assembly, Plan, closer_by, wall_spread
from geartrack.clearance import Gap
from geartrack.inputs import minimum_wall_start
from geartrack.job import Job
from geartrack.materials import FACTS, Material
from geartrack.quantity import Quantity
from geartrack.quote import Work
from geartrack.relief import Wall, relief, stop_clearance, wall_left
from geartrack.spread import Band, clearances
from geartrack.study.answer import Cuts


def minimum_wall(job: Job, now: Wall) -> Quantity:
    """The shop's minimum wall and the maker's, the larger; else the labelled starting value."""
    typed = [w for w in (job.case.minimum_wall, job.case.makers_minimum_wall) if isinstance(w, Quantity)]
    return max(typed, key=lambda wall: wall.value) if typed else minimum_wall_start(now.before_mm)


def cuts_for(chosen: Plan, now: Assembly, gap: Gap, found: Band, minimum: Quantity) -> Cuts:
    """The reliefs for the wanted gap, least to most, the wall each leaves, and STOP (at the wall's low end).

    All in the geometry as calculated; see `clearances` for what stands for the ends of the range. The cut to hold the
    gap does so at the job's own chance; the low wall is never that of a cut less sure than 97.5 % (DESIGN 6).
    """
    job, grown = chosen.job, closer_by(chosen)
    wanted = clearances(job.target.gap.value, gap.nominal_mm, found, found.margin)
    least_mm, target_mm, hold_mm = (clearance + grown for clearance in wanted)
    sure_mm = target_mm + found.guard
    walls = [wall_left(now.boss, now.section, clearance) for clearance in (least_mm, target_mm, sure_mm)]
    spread = wall_spread(chosen, walls[1].clock)
    stop = stop_clearance(
        now.boss,
        now.section,
        clearance_mm=hold_mm,
        allowance_mm=job.target.allowance.value,
        minimum_wall_mm=minimum.value + spread,
    )
    return Cuts(
        least=relief(now.boss, now.section, least_mm),
        nominal=relief(now.boss, now.section, target_mm),
        hold=relief(now.boss, now.section, hold_mm),
        wall=walls[1],
        wall_low_mm=max(0.0, walls[2].left_mm - spread),
        wall_high_mm=walls[0].left_mm + spread,
        stop=stop,
        at_stop=relief(now.boss, now.section, stop.clearance_mm),
    )


def work_for(job: Job, cuts: Cuts) -> Work:
    """What the quote prices: mass and depth at the least, as calculated, and to hold the wanted gap."""
    density = FACTS[Material(job.case.material)].density_g_mm3
    three = (cuts.least, cuts.nominal, cuts.hold)
    least, likely, most = (cut.volume_mm3 * density for cut in three)
    depth = [cut.depth_radial_max_mm for cut in three]
    return Work((least, likely, most), (depth[0], depth[1], depth[2]), Material(job.case.material))
