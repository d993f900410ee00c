"""The boss as a closed triangle mesh: the one type that parts, stations, traces and scans all give."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from geartrack.frame import Array, Seat

Triangles = NDArray[np.int32]


@dataclass(frozen=True)
class Bore:
    """The pilot bore, about the boss frame's x axis.

    diameter_mm; depth_mm: how far it runs in from the pinion-side end face [mm]; seat_from_mm, seat_to_mm: the stations
    between which the bearing's outer ring bears, chamfers left out (the land of DESIGN 4) [mm].
    """

    diameter_mm: float
    depth_mm: float
    seat_from_mm: float
    seat_to_mm: float


@dataclass(frozen=True, eq=False)
class BossMesh:
    """A boss in its own frame (see geartrack.frame), in the hand of the real part.

    vertices : (n, 3) float [mm]; triangles : (m, 3) int32, wound outward, closed
    bore : the pilot bore, already cut out of the mesh
    short_mm : true surface may stand out beyond the facets by this much (convex faces, inscribed) [mm]
    proud_mm : facets may stand out beyond the true surface by this much (concave fillets) [mm]
    origin : one line for the sheet ("parts, 3", "stations, 48 readings")
    interpolation_mm : leave-one-out error of an interpolated boss, 2-sigma; 0 for parts [mm]
    interpolated : whether the certified bounds cover only an interpolant (`gap.bounds_cover`)
    notes : what the sheet must say about it, one line each (what was not read, and how it is drawn)
    """

    vertices: Array
    triangles: Triangles
    bore: Bore
    short_mm: float = 0.0
    proud_mm: float = 0.0
    origin: str = ""
    interpolation_mm: float = 0.0
    interpolated: bool = False
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, eq=False)
class PlacedBoss:
    """A boss in the axle frame of the arithmetic: mirrored here, if at all, and nowhere else."""

    mesh: BossMesh
    seat: Seat

    @cached_property
    def vertices(self) -> Array:
        """(n, 3) float [mm], axle frame."""
        return self.seat.to_axle(self.mesh.vertices)

    @cached_property
    def triangles(self) -> Triangles:
        """(m, 3) int32, wound outward in the axle frame (a mirror image turns the winding round)."""
        return self.mesh.triangles if self.seat.hand.sign > 0 else np.ascontiguousarray(self.mesh.triangles[:, ::-1])
