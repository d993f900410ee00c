"""The section of a turning body: one polygon in its meridian half-plane."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from geartrack.errors import refuse

Points = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Section:
    """A closed polygon in the half-plane (r, z) of a turning body.

    For the ring gear and what turns with it: r is the distance from the ring axis, z runs along the ring axis toward
    the ring's back face (DESIGN 1). For the pinion: r is the distance from the pinion axis and z is X. Example: the
    ring's tooth tips are its points of least z, since the teeth look toward -Z.

    points : (n, 2) float [mm], counter-clockwise in (r, z), first point not repeated
    edges : n names; edge i runs from point i to point i + 1
        ("tooth tips", "toe", "heel", "outside", "back face", "bore")
    name : the body ("ring", "ring bolts", "carrier", "pinion")
    """

    points: Points
    edges: tuple[str, ...]
    name: str = "ring"

    def __post_init__(self) -> None:
        if self.points.ndim != 2 or self.points.shape[1] != 2 or len(self.points) < 3:
            raise refuse(self.name, "a section needs at least three points in (r, z)")
        if len(self.edges) != len(self.points):
            raise refuse(self.name, f"{len(self.points)} points but {len(self.edges)} edge names")
        if not np.isfinite(self.points).all() or (self.points[:, 0] < 0).any():
            raise refuse(self.name, "a section's points must be finite, with r not negative")
        r, z = self.points.T
        if np.sum(r * np.roll(z, -1) - np.roll(r, -1) * z) <= 0:
            raise refuse(self.name, "a section's points must run counter-clockwise")

    def moved(self, dr_mm: float = 0.0, dz_mm: float = 0.0) -> Section:
        """The same section shifted by (dr, dz) [mm]; +dz is away from the pinion axis for the ring."""
        return Section(self.points + np.array([dr_mm, dz_mm]), self.edges, self.name)
