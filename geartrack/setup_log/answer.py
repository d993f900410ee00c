"""What the readings on a pinion support say, complete and frozen."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from geartrack.job import Job, TorqueReading
from geartrack.setup_log.crush import Crush
from geartrack.setup_log.drag import Drag
from geartrack.setup_log.shims import Combination
from geartrack.setup_log.stacks import NextStack, Tried

Against = Literal["under", "in range", "over", "cannot tell"]


@dataclass(frozen=True)
class Judged:
    """A torque reading: the torque of the bearings alone [N.m] (None: drag not known), and how it is to the range."""

    reading: TorqueReading
    alone_nm: float | None
    against: Against


@dataclass(frozen=True)
class SetupAnswer:
    """What the readings on the pinion support say.

    drag: what the seal adds. target_nm: the maker's range for the bearings alone; target_seal_in_nm: with the seal in,
    both low and high [N.m], None where not known. tried: the stacks, bearings alone. next: the stack to try next;
    combinations: shims on hand for it. crush: how the sleeve stands. flagged: what does not go together.
    """

    job: Job
    drag: Drag | None
    target_nm: tuple[float, float] | None
    target_seal_in_nm: tuple[float, float] | None
    readings: tuple[Judged, ...]
    tried: tuple[Tried, ...]
    next: NextStack | None
    combinations: tuple[Combination, ...]
    crush: Crush | None
    flagged: tuple[str, ...]
