"""The certified gap between the boss and what turns beside it."""

from geartrack.clearance.batch import batch_gap
from geartrack.clearance.gap import (
    Gap,
    axial_retreat,
    boss_gap,
    gap,
    gap_by_body,
    gap_map,
    pinion_gap,
    prepared_boss,
)
from geartrack.clearance.prepared import Prepared, prepare

__all__ = [
    "Gap",
    "Prepared",
    "axial_retreat",
    "batch_gap",
    "boss_gap",
    "gap",
    "gap_by_body",
    "gap_map",
    "pinion_gap",
    "prepare",
    "prepared_boss",
]
