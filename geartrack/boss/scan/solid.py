"""The boss as the solid that a scan's own surface bounds, from a mesh that need not be closed.

Beside the outside resolved on a grid (geartrack.boss.scan.surface), which has one radius at each station and clock
angle, this keeps what the scan shows as it is, overhangs too, and takes flat fillings where it shows nothing.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from geartrack.boss.bored import as_solid, bored
from geartrack.boss.facets import lathe
from geartrack.boss.mesh import Bore, BossMesh, Triangles
from geartrack.boss.scan.heal import Fill, Healed, healed
from geartrack.errors import refuse
from geartrack.frame import Array, polar
from geartrack.tolerances import TOLERANCES

if TYPE_CHECKING:
    from manifold3d import Manifold

_FACETS = 720
_MARGIN_MM = 2.0  # of surface kept beyond where the solid is cut off
_JUST = 1e-3
_PLUG_MM = 0.3  # the bore's wall is made good so deep before it is bored: a scanned one is rough, and chamfered


def boss_solid(
    vertices: Array,
    triangles: Triangles,
    bore: Bore,
    *,
    length_mm: float,
    out_mm: float,
    face_mm: float = 0.1,
    noise_mm: float = 0.0,
    source: str = "scan",
) -> tuple[BossMesh, Healed]:
    """The boss between its end face and `length_mm`, within `out_mm` of its axis [mm], and how it was made whole.

    vertices (n, 3) in the boss frame [mm]; the bore is cut as it was measured. face_mm: nearer than this to the end
    face's plane [mm] the scan may be the face's own roughness, so there the boss is drawn as it is just further in, and
    ends in that plane. noise_mm: 2-sigma of its vertices [mm], by which the mesh may stand out or fall short; where a
    hole was filled it may fall short by the filling's off_mm more (ends where the scan was cut off left out).
    Raises InputError where the scan holds no solid there.
    """
    station, radius, _ = polar(vertices)
    near = (station > -_MARGIN_MM) & (station < length_mm + _MARGIN_MM) & (radius < out_mm + _MARGIN_MM)
    used, number = np.unique(triangles[near[triangles].all(axis=1)], return_inverse=True)
    whole = healed(vertices[used], number.reshape(-1, 3).astype(np.int32), beyond=radius[used] > out_mm)
    solid = as_solid(whole.vertices, whole.triangles) if whole.closed else None
    if solid is None or not solid.volume() > 0:
        raise refuse(source, "holds no solid round the bore, even with its holes filled", "a scan with fewer holes")
    rough = solid ^ _round(face_mm, length_mm, out_mm)
    plug = _round(0.0, length_mm, bore.diameter_mm / 2 + _PLUG_MM)
    points, faces = bored(rough + _end(rough, face_mm) + plug, bore, _FACETS, TOLERANCES)
    off = max((fill.off_mm for fill in whole.fills if _is_hole(fill, length_mm, out_mm)), default=0.0)
    origin = f"scan, {source}"
    mesh = BossMesh(points, faces, bore, off + noise_mm, noise_mm, origin, noise_mm, True, whole.notes)
    return mesh, whole


def _round(start_mm: float, end_mm: float, radius_mm: float) -> Manifold:
    """A cylinder about the bore axis between two stations, no smaller than its circle."""
    corner = radius_mm / math.cos(math.pi / _FACETS)
    return as_solid(*lathe(np.array([start_mm, end_mm]), np.full(2, corner), _FACETS))


def _end(solid: Manifold, face_mm: float) -> Manifold:
    """From the end face's plane in to where the solid begins: its own section there, drawn out."""
    upright = solid.rotate((0.0, 90.0, 0.0))  # x, the way out of the end face, becomes -z
    section = upright.slice(face_mm * (1 + _JUST))
    return section.extrude(face_mm * (1 + 2 * _JUST)).rotate((0.0, -90.0, 0.0))


def _is_hole(fill: Fill, length_mm: float, out_mm: float) -> bool:
    """Whether a filling lies on the boss, not where the scan was cut off round it."""
    station, radius, _ = polar(np.array(fill.centre_mm))
    return 0.0 <= float(station) <= length_mm and float(radius) <= out_mm
