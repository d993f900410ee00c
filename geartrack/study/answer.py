"""What a study answers: complete, frozen, and the only thing that figures, tables and JSON are made from."""

from __future__ import annotations

from dataclasses import dataclass

from geartrack.boss.mesh import PlacedBoss
from geartrack.clearance import Gap
from geartrack.frame import Hand
from geartrack.gearset.blank import GearBlanks
from geartrack.gearset.place import Placement
from geartrack.gearset.teeth import ToothPair
from geartrack.job import Job
from geartrack.quantity import Quantity
from geartrack.quote import Work
from geartrack.relief import Relief, Stop, Wall
from geartrack.section import Section
from geartrack.spread import Band, NextReading
from geartrack.verdict import Verdict


@dataclass(frozen=True)
class Place:
    """A spot on the boss in bench words' numbers, in the real axle's hand.

    station_mm: in from the pinion-side end face [mm]. radius_mm: from the pinion axis [mm]. clock: seen from the
    pinion-nut end [rad]; where the hand is not known the mark may lie on either side. x_mm: station along X [mm].
    away: on the side away from the ring's centre line (None: no offset, or dead on 12 or 6 o'clock).
    """

    station_mm: float
    radius_mm: float
    clock: float
    x_mm: float
    away: bool | None


@dataclass(frozen=True)
class Cuts:
    """The relief for the target: nominal, at the gap's high end (least), at its low end (holds the target), and STOP.

    least, nominal, hold: reliefs whose clearance is target minus the gap's rise or plus its fall, in nominal geometry;
    hold gives the target with the chance of the job's [target] confidence. wall: the wall left by the nominal one.
    wall_low_mm, wall_high_mm: left by hold at its low end (or by the cut for 97.5 %, the deeper of the two), and by
    least at its high end. stop: where to stop; None where no depth may be given.
    """

    least: Relief
    nominal: Relief
    hold: Relief
    wall: Wall
    wall_low_mm: float
    wall_high_mm: float
    stop: Stop | None
    at_stop: Relief | None


@dataclass(frozen=True)
class Alternative:
    """Something else that could be done, best first: words, and its tooth pair or target where it has one."""

    words: str
    pair: ToothPair | None = None
    target_mm: float | None = None


@dataclass(frozen=True)
class Answer:
    """Everything one check found.

    gap: certified, nominal geometry, of the ring; place: where. by_body: the gap of every turning body by name.
    band: the set-up gap's low to high [mm], certified bounds included. running_low_mm: low end of the running gap [mm].
    cuts: None where no depth may be given. pinion_gap: pinion toe end to the boss. work: what the quote prices.
    next_readings: readings not yet taken, the one worth most per minute first; none where nothing was drawn.
    """

    job: Job
    pair: ToothPair
    hand: Hand | None
    inputs: dict[str, Quantity]
    blanks: GearBlanks
    section: Section
    bodies: tuple[Section, ...]
    placement: Placement
    boss: PlacedBoss
    gap: Gap
    by_body: dict[str, Gap]
    place: Place
    target_mm: float
    band: Band
    running_low_mm: float
    axial_retreat_mm: float
    minimum_wall: Quantity | None
    wall_before: Wall
    cuts: Cuts | None
    pinion_gap: Gap
    verdict: Verdict
    work: Work
    alternatives: tuple[Alternative, ...]
    notes: tuple[str, ...]
    next_readings: tuple[NextReading, ...] = ()


@dataclass(frozen=True)
class RatioRow:
    """One tooth pair of a comparison, from tooth counts and typed dimensions (a measured ring is one set's only)."""

    pair: ToothPair
    gap: Gap
    band_low_mm: float
    band_high_mm: float
    depth_mm: float
    volume_mm3: float
    wall_left_mm: float
    toe_tip_height_mm: float


@dataclass(frozen=True)
class Crossing:
    """Where, at one pinion tooth count, the gap falls through a level (the target, or zero).

    last_above, first_below: neighbouring tooth pairs (None: outside the pairs compared).
    ratio: where it falls through, between them, interpolated.
    """

    pinion: int
    level_mm: float
    last_above: ToothPair | None
    first_below: ToothPair | None
    ratio: float | None


@dataclass(frozen=True)
class RatioTable:
    """Rows by ratio, crossings by pinion tooth count, and between which ratios target and zero are lost over all.

    target_interval, contact_interval: ratios [-]; None where all pairs hold the level, or none does.
    """

    job: Job
    target_mm: float
    rows: tuple[RatioRow, ...]
    crossings: tuple[Crossing, ...]
    target_interval: tuple[float, float] | None
    contact_interval: tuple[float, float] | None
