"""How sure a result is: low to high, what makes it, what a reading changes, which reading to take next (DESIGN 5)."""

from geartrack.spread.ranges import Range, Share, clearances, worst_case

__all__ = ["Range", "Share", "clearances", "worst_case"]
