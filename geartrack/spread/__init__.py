"""How sure a result is: low to high, what makes it, what a reading changes, which reading to take next (DESIGN 5)."""

from geartrack.spread.after import with_the_cut
from geartrack.spread.bench import NextReading, next_readings
from geartrack.spread.outcome import Band, drawn_band, placed_by_draws, simple_band, straight_sum
from geartrack.spread.posterior import Posterior, Sampling, posterior
from geartrack.spread.ranges import Range, Share, clearances, worst_case

__all__ = [
    "Band",
    "NextReading",
    "Posterior",
    "Range",
    "Sampling",
    "Share",
    "clearances",
    "drawn_band",
    "next_readings",
    "placed_by_draws",
    "posterior",
    "simple_band",
    "straight_sum",
    "with_the_cut",
    "worst_case",
]
