"""A boss with a cut made, as a mesh to hold the ring against again."""

from __future__ import annotations

from geartrack.boss.mesh import PlacedBoss, Triangles
from geartrack.frame import Array
from geartrack.relief.solid import as_solid, sweep_under, triangles_of
from geartrack.section import Section


def relieved(boss: PlacedBoss, section: Section, clearance_mm: float) -> tuple[Array, Triangles]:
    """Vertices (n, 3) [mm], axle frame, and triangles (m, 3) of a boss after the least cut for a clearance.

    The cut is made by a boolean of flat facets that lie within the true one: nowhere is more taken than would be.
    Raises InputError where the boss's surface is not closed.
    """
    left = as_solid(boss.mesh, "boss") - sweep_under(boss, section, clearance_mm)
    vertices, triangles = triangles_of(left)
    return boss.seat.to_axle(vertices), triangles
