"""The least cut for a given clearance, the wall it leaves, and where to stop."""

from geartrack.relief.cut import Relief, relief
from geartrack.relief.wall import Stop, Wall, stop_clearance, wall_before, wall_left

__all__ = ["Relief", "Stop", "Wall", "relief", "stop_clearance", "wall_before", "wall_left"]
