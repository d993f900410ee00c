"""The one home of numerical tolerances; nothing else in the package carries a bare 1e-6."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Tolerances:
    """Frozen settings, passed in; a caller that wants others makes others.

    gap_mm: width of the certified bounds of a gap [mm].
    far_mm: a body this far off need not be known to gap_mm: the gap to its convex outline will do [mm].
    bevel_below_mm: a set with a smaller offset is worked as one without (DESIGN 2.2) [mm].
    facet_mm: how far a facet of a boss made from parts or traced may stray from the true surface [mm].
    arc_segments: segments a quarter turn when a section is grown (DESIGN 4).
    root_relative: relative tolerance of every root that is solved for.
    mesh_mm: two mesh points closer than this are one [mm].
    """

    gap_mm: float = 0.001
    far_mm: float = 3.0
    bevel_below_mm: float = 0.5
    facet_mm: float = 0.0005
    arc_segments: int = 128
    root_relative: float = 1e-12
    mesh_mm: float = 1e-6


TOLERANCES = Tolerances()
