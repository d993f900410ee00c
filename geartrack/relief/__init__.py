"""The least cut for a given clearance, the wall it leaves, and where to stop."""

from geartrack.relief.cut import Relief, relief
from geartrack.relief.steps import Deepest, even_steps, full_steps, new_cut
from geartrack.relief.wall import Stop, Wall, stop_clearance, wall_before, wall_left

__all__ = [
    "Deepest",
    "Relief",
    "Stop",
    "Wall",
    "even_steps",
    "full_steps",
    "new_cut",
    "relief",
    "stop_clearance",
    "wall_before",
    "wall_left",
]
