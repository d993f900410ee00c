"""Plane cuts and silhouettes of what is drawn: shapes on paper, never results."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from shapely import Polygon, covers, make_valid, polygons, prepare, union_all
from shapely.geometry.base import BaseGeometry

from geartrack.boss.mesh import BossMesh, PlacedBoss, Triangles
from geartrack.frame import Array, meridian
from geartrack.section import Section
from geartrack.tolerances import TOLERANCES

_SLICES = 36
_PIECES = 4  # a straight side is a curve in (r, z)
_OFF_THE_PLANE = TOLERANCES.mesh_mm  # a vertex on the plane itself would break the loops


def across_ring_axis(boss: PlacedBoss, turn: float) -> BaseGeometry:
    """The boss cut by the half-plane through the ring axis at `turn` from +X toward +Y [rad], in (r, z) [mm]."""
    return _across_ring_axis(boss.vertices, boss.triangles, turn)


def silhouette(boss: PlacedBoss) -> BaseGeometry:
    """All that the boss covers in (r, z) [mm]: cuts by half-planes through the ring axis, and what turns edge-on there.

    Cuts alone leave steps along an edge of the boss; the triangles on whose sides the outline lies fill them.
    """
    turns = np.arctan2(boss.vertices[:, 1], boss.vertices[:, 0])
    corners = turns[boss.triangles]
    low, high = corners.min(axis=1), corners.max(axis=1)
    edges = np.linspace(turns.min(), turns.max(), _SLICES + 1)
    parts = []
    for turn in (edges[:-1] + edges[1:]) / 2:
        near = (low <= turn + _OFF_THE_PLANE) & (turn - _OFF_THE_PLANE <= high)
        parts.append(_across_ring_axis(boss.vertices, boss.triangles[near], float(turn)))
    share = np.linspace(0.0, 1.0, _PIECES, endpoint=False)[:, None, None, None]
    rim = boss.vertices[_edge_on(boss)]
    rim = (1 - share) * rim + share * np.roll(rim, -1, axis=1)
    steps = make_valid(polygons(np.moveaxis(meridian(rim), 0, 2).reshape(rim.shape[1], -1, 2)))
    whole = union_all(parts)
    prepare(whole)
    return union_all([whole, *steps[~covers(whole, steps)]])


def _edge_on(boss: PlacedBoss) -> Triangles:
    """Triangles with a neighbour that faces the other way in (r, z)."""
    flat = meridian(boss.vertices)[boss.triangles]
    a, b = np.moveaxis(flat[:, 1:] - flat[:, :1], 1, 0)
    faces = a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0] > 0
    ends = np.sort(np.stack([boss.triangles, np.roll(boss.triangles, -1, axis=1)], axis=2).reshape(-1, 2), axis=1)
    _, edge = np.unique(ends[:, 0].astype(np.int64) * len(boss.vertices) + ends[:, 1], return_inverse=True)
    toward = np.bincount(edge, weights=np.repeat(faces, 3))
    both = (toward > 0) & (toward < np.bincount(edge))
    chosen: Triangles = boss.triangles[both[edge].reshape(-1, 3).any(axis=1)]
    return chosen


def across_bore(mesh: BossMesh, station_mm: float) -> BaseGeometry:
    """The boss cut square to the bore at a station (an end face: just inside), in (y, z) of the boss frame [mm]."""
    x = mesh.vertices[:, 0]
    inside = 0.01 * (x.max() - x.min())
    at = np.clip(-station_mm, x.min() + inside, x.max() - inside)
    return _cut(x - at, mesh.vertices[:, 1:], mesh.triangles)


def outer(shape: BaseGeometry) -> BaseGeometry:
    """The largest piece of a cut with its holes filled."""
    return Polygon(max(getattr(shape, "geoms", (shape,)), key=lambda piece: piece.area).exterior)


def polygon(section: Section) -> Polygon:
    """A turning body's section as a polygon in (r, z) [mm]."""
    return Polygon(section.points)


def swept_across_bore(section: Section, boss: PlacedBoss, station_mm: float) -> BaseGeometry:
    """What a turning section sweeps in the plane square to the bore at a station, in (y, z) of the boss frame [mm]."""
    x = boss.seat.end_face_mm - station_mm
    outline = np.asarray(polygon(section).segmentize(0.1).exterior.coords)
    half = _beyond(outline, abs(x))
    if half.is_empty:
        return half
    parts = []
    for piece in getattr(half, "geoms", (half,)):
        r, z = np.asarray(piece.segmentize(0.1).exterior.coords).T
        y = np.sqrt(np.maximum(r**2 - x**2, 0.0))
        for side in (y, -y):
            axle = np.stack([np.full_like(y, x), side, z], axis=1)
            parts.append(make_valid(Polygon(boss.seat.to_boss(axle)[:, 1:])))
    return union_all(parts)


def _beyond(outline: Array, r_mm: float) -> BaseGeometry:
    """The part of a polygon in (r, z) whose r is at least r_mm."""
    from shapely import box

    low, high = outline.min(axis=0), outline.max(axis=0)
    return make_valid(Polygon(outline)).intersection(box(r_mm, low[1] - 1, max(high[0], r_mm) + 1, high[1] + 1))


def _across_ring_axis(vertices: Array, triangles: Triangles, turn: float) -> BaseGeometry:
    c, s = np.cos(turn), np.sin(turn)
    x, y, z = vertices.T
    return _cut(c * y - s * x, np.stack([c * x + s * y, z], axis=1), triangles)


def _cut(height: Array, flat: Array, triangles: Triangles) -> BaseGeometry:
    """The closed mesh cut where `height` is zero, drawn in the coordinates `flat` (n, 2)."""
    height = np.where(np.abs(height) < _OFF_THE_PLANE, _OFF_THE_PLANE, height)
    above = height[triangles] > 0
    crossed = above.any(axis=1) & ~above.all(axis=1)
    triangles, above = triangles[crossed], above[crossed]
    after = np.roll(above, -1, axis=1)
    follows = dict(zip(_edges(triangles, above & ~after), _edges(triangles, ~above & after), strict=True))
    whole: BaseGeometry = Polygon()
    while follows:
        first, here = follows.popitem()
        loop = [first]
        while here in follows:
            loop.append(here)
            here = follows.pop(here)
        if len(loop) > 2:
            a, b = np.array(loop).T
            share = (height[a] / (height[a] - height[b]))[:, None]
            area = make_valid(Polygon(flat[a] * (1 - share) + flat[b] * share))
            whole = whole.symmetric_difference(area)  # a loop inside another is a hole
    return whole


def _edges(triangles: Triangles, chosen: NDArray[np.bool_]) -> list[tuple[int, int]]:
    """The one chosen edge of each triangle, from its corner i to i + 1, as the two vertices, the lesser first."""
    row, at = np.arange(len(triangles)), chosen.argmax(axis=1)
    ends = np.sort(np.stack([triangles[row, at], triangles[row, (at + 1) % 3]], axis=1), axis=1)
    return [(a, b) for a, b in ends.tolist()]
