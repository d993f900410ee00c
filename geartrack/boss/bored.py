"""The pilot bore cut out of a solid, once metal is known to stand all round it."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from geartrack.boss.facets import bore_circle_mm, lathe, said, seat_findings
from geartrack.boss.mesh import Bore, Triangles
from geartrack.errors import Finding, InputError
from geartrack.frame import Array, polar
from geartrack.tolerances import Tolerances

if TYPE_CHECKING:
    from manifold3d import Manifold


def as_solid(points: Array, triangles: Triangles) -> Manifold:
    """A closed mesh as a solid: points (n, 3) [mm], triangles (m, 3) wound outward."""
    from manifold3d import Manifold, Mesh64

    return Manifold(Mesh64(points, triangles.astype(np.uint64)))


def bored(solid: Manifold, bore: Bore, facets: int, tolerances: Tolerances) -> tuple[Array, Triangles]:
    """Vertices (n, 3) [mm] and triangles (m, 3) of a solid with the bore cut out, the bore's circle of so many facets.

    Raises InputError, one line each, where the boss does not hold its bearing seat or metal is missing round the bore.
    """
    _check_bore(solid, bore, facets, tolerances)
    circle = bore_circle_mm(bore, facets)
    mesh = (solid - as_solid(*lathe(np.array([-1.0, bore.depth_mm]), np.array([circle, circle]), facets))).to_mesh64()
    return np.array(mesh.vert_properties[:, :3]), np.array(mesh.tri_verts, dtype=np.int32)


def _check_bore(solid: Manifold, bore: Bore, facets: int, tolerances: Tolerances) -> None:
    """Metal all round the bore, as far in as both bore and boss go; a wall thinner than a facet's error is none."""
    box = solid.bounding_box()
    length, across = -box[0], max(box[4] - box[1], box[5] - box[2])
    found = seat_findings(bore, length)
    if bore.diameter_mm >= across:
        what = f"the pilot bore, {said(bore.diameter_mm)}, is not smaller than the boss, {said(across)} across"
        found.append(Finding("boss.bore_diameter", what, "a bore smaller than the boss"))
    else:
        radius = bore_circle_mm(bore, facets) + tolerances.facet_mm
        # Just inside both ends: where many parts end together their faces differ by rounding, and no wall is missing.
        ends = np.array([tolerances.mesh_mm, min(bore.depth_mm, length) - tolerances.mesh_mm])
        probe = as_solid(*lathe(ends, np.array([radius, radius]), facets))
        found += [_no_wall(piece, bore) for piece in (probe - solid).decompose()]
    if found:
        raise InputError(*found)


def _no_wall(missing: Manifold, bore: Bore) -> Finding:
    """The wall is missing here."""
    box = missing.bounding_box()
    width, height = box[4] - box[1], box[5] - box[2]
    clock = math.degrees(float(polar(np.array([0.0, box[1] + box[4], box[2] + box[5]]))[2]))
    around = min(width, height) >= bore.diameter_mm
    place = "all round" if around else f"at about {clock:.0f} deg, seen from the pinion-nut end"
    what = f"no wall round the pilot bore {said(0.0 - box[3])} to {said(-box[0])} from the pinion-side end, {place}"
    return Finding("boss.bore_diameter", what, f"metal all round the bore, {said(bore.diameter_mm)}")
