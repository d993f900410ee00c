"""The gap as calculated and where it is, without its low to high: what can be drawn while a value is being typed."""

from __future__ import annotations

from dataclasses import dataclass

from geartrack.assembly import plan, turning_bodies
from geartrack.boss.mesh import PlacedBoss
from geartrack.clearance import Gap
from geartrack.frame import Hand
from geartrack.gearset.teeth import ToothPair, one_pair
from geartrack.job import Job
from geartrack.section import Section
from geartrack.study.check import nominal_gap


@dataclass(frozen=True)
class Glance:
    """A job's nominal geometry and gap; where the hand is not given, of the hand that comes closer."""

    job: Job
    pair: ToothPair
    boss: PlacedBoss
    section: Section
    bodies: tuple[Section, ...]
    gap: Gap
    target_mm: float


def glance(job: Job) -> Glance:
    """The gap as calculated; decides nothing. Raises InputError as a check does."""
    pair = one_pair(job.gears.teeth)
    hands = [job.axle.hand] if job.axle.hand else list(Hand)
    now, gap = min((nominal_gap(plan(job, pair, hand)) for hand in hands), key=lambda found: found[1].lower_mm)
    return Glance(job, pair, now.boss, now.section, turning_bodies(job), gap, job.target.gap.value)
