"""What a job's numbers come to: a plan, in which inputs may move, and ring and boss in place for one set of values."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from geartrack.boss.from_job import AsRead
from geartrack.boss.mesh import PlacedBoss
from geartrack.frame import Hand
from geartrack.gearset.blank import GearBlanks
from geartrack.gearset.place import Evidence, Placement
from geartrack.gearset.teeth import ToothPair
from geartrack.job import Correlated, Job
from geartrack.quantity import Quantity
from geartrack.readings import AgainstBoss
from geartrack.section import Section

Values = Mapping[str, float]
WEIGHED, MODEL = "gears.toe_tip", "gears.model"
NO_VALUES: Values = {}


@dataclass(frozen=True, eq=False)
class Plan:
    """What stays the same while inputs move: a job for one tooth pair and one hand, and every input of its geometry.

    inputs: by dotted name, lengths in mm, angles in rad. placement: where the teeth run; an input of its own
    ("gears.toe_tip") where there is more to go by than the pitch cones, which alone have "gears.model" beside them.
    absorbed: inputs that a reading against the boss already holds; they do not move the gap's range any more.
    heights: what was read of where the toe tips run, the pitch cones' own estimate apart. against: the readings against
    the boss. old: the plan of the old set in the same case, where readings were taken with it; they are in there.
    from_old: this set's toe tips less the old one's [mm], where both rings' heights were read. correlated: inputs that
    err together. outside: how far the walls read put the boss's outside past the drawn one, all round, across and
    toward the ring, real part's frame [mm]; what it may be off by is about there. flagged: walls that do not go with
    the rest.
    """

    job: Job
    pair: ToothPair
    hand: Hand
    inputs: dict[str, Quantity]
    placement: Placement
    readings: AsRead | None
    absorbed: frozenset[str] = frozenset()
    heights: tuple[Evidence, ...] = ()
    against: tuple[AgainstBoss, ...] = ()
    old: Plan | None = None
    from_old: Quantity | None = None
    correlated: tuple[Correlated, ...] = ()
    outside: tuple[float, float, float] = (0.0, 0.0, 0.0)
    flagged: tuple[str, ...] = ()

    @property
    def moving(self) -> dict[str, Quantity]:
        """The inputs whose give or take makes the gap's low and high."""
        return {name: quantity for name, quantity in self.inputs.items() if name not in self.absorbed}

    @property
    def ring_placed(self) -> bool:
        """Whether the ring was measured, or its place was."""
        return WEIGHED in self.inputs


@dataclass(frozen=True)
class Assembly:
    """Ring and boss in place for one set of values."""

    blanks: GearBlanks
    section: Section
    boss: PlacedBoss
