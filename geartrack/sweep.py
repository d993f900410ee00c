"""What turning metal sweeps: exact signed distance to a section, its growth and union, and the ring's pose.

The nearest points of a point and a solid of revolution lie in one half-plane through the axis, so every distance here
is the distance of (r, z) to a polygon (DESIGN 3). Positive apart, negative inside, 1-Lipschitz. An edge on r = 0 is the
axis, not metal's surface, and never counts.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray

from geartrack.errors import refuse
from geartrack.frame import Array
from geartrack.section import Section

_BLOCK = 8192  # points at a time: the working arrays stay in the processor's cache


@dataclass(frozen=True)
class Pose:
    """How the ring stands against its nominal place: tilted about O, then shifted (DESIGN 3).

    dx_mm, dy_mm, dz_mm: shift along the axle frame's axes [mm]; +dz is away from the pinion axis.
    tilt_x, tilt_y: turn about X, then about Y, right-handed [rad]. Example: +tilt_x lifts the ring's +Y side to +Z.
    """

    dx_mm: float = 0.0
    dy_mm: float = 0.0
    dz_mm: float = 0.0
    tilt_x: float = 0.0
    tilt_y: float = 0.0

    def rotation(self) -> Array:
        """The turn as a (3, 3) matrix acting on column vectors."""
        cx, sx, cy, sy = np.cos(self.tilt_x), np.sin(self.tilt_x), np.cos(self.tilt_y), np.sin(self.tilt_y)
        about_x = np.array([[1, 0, 0], [0, cx, -sx], [0, sx, cx]])
        about_y = np.array([[cy, 0, sy], [0, 1, 0], [-sy, 0, cy]])
        turn: Array = about_y @ about_x
        return turn


def unposed(points: Array, pose: Pose) -> Array:
    """Axle-frame points (..., 3) [mm] as the posed ring sees them: the inverse of the pose applied.

    >>> unposed(np.array([[10.0, 0.0, 5.0]]), Pose(dz_mm=2.0)).tolist()
    [[10.0, 0.0, 3.0]]
    """
    shifted = np.asarray(points, float) - [pose.dx_mm, pose.dy_mm, pose.dz_mm]
    turned: Array = shifted @ pose.rotation()  # row vectors: multiplying by R on the right applies its transpose
    return turned


def signed_distance(section: Section, points: Array) -> Array:
    """Distance of points (..., 2) in (r, z) [mm] to a section, (...) [mm]: positive outside, negative inside.

    Exact for a simple polygon, on edges and corners too (0 there). Raises InputError if a point is not finite.

    >>> square = Section(np.array([[10.0, 0.0], [20.0, 0.0], [20.0, 10.0], [10.0, 10.0]]), ("a", "b", "c", "d"))
    >>> signed_distance(square, np.array([[7.0, -4.0], [15.0, 3.0], [20.0, 5.0]])).tolist()
    [5.0, -3.0, 0.0]
    """
    points = np.asarray(points, float)
    if not np.isfinite(points).all():
        raise refuse(section.name, "a point whose distance is asked for is not a finite number")
    r, z = points[..., 0].ravel(), points[..., 1].ravel()
    edges = _edges(section)
    out = np.empty(len(r))
    for start in range(0, len(r), _BLOCK):
        block = slice(start, start + _BLOCK)
        out[block] = _signed_block(edges, r[block], z[block])
    return out.reshape(points.shape[:-1])


def _off_axis(section: Section) -> NDArray[np.bool_]:
    """Which edges are surface: an edge on r = 0 is the axis."""
    off: NDArray[np.bool_] = (section.points[:, 0] > 0) | (np.roll(section.points[:, 0], -1) > 0)
    return off


@lru_cache(maxsize=64)
def _edges(section: Section) -> list[tuple[float, float, float, float, float]]:
    """Each edge off the axis as (r, z of its start, r, z of its end, 1 / length^2)."""
    starts, ends = section.points, np.roll(section.points, -1, axis=0)
    length2 = ((ends - starts) ** 2).sum(axis=1)
    inverse = np.divide(1.0, length2, out=np.zeros_like(length2), where=length2 > 0)
    keep = _off_axis(section)
    return [(*a, *b, i) for a, b, i in zip(starts[keep], ends[keep], inverse[keep], strict=True)]


def _signed_block(edges: list[tuple[float, float, float, float, float]], r: Array, z: Array) -> Array:
    """Least distance over the edges; the sign from how often a ray toward +r crosses them (so r = 0 never matters)."""
    best = np.full(len(r), np.inf)
    inside = np.zeros(len(r), bool)
    for ar, az, br, bz, inverse in edges:
        er, ez = br - ar, bz - az
        wr, wz = r - ar, z - az
        crosses = (z >= az) != (z >= bz)
        inside ^= crosses & ((er * wz > ez * wr) == (bz > az))
        along = np.clip((wr * er + wz * ez) * inverse, 0.0, 1.0)
        wr -= along * er
        wz -= along * ez
        np.minimum(best, wr * wr + wz * wz, out=best)
    distance: Array = np.sqrt(best, out=best)
    return np.negative(distance, out=distance, where=inside & (distance > 0))


@dataclass(frozen=True)
class Nearest:
    """The place on a section's outline nearest to a point.

    distance_mm: signed, positive outside [mm]; point: (2,) in (r, z) [mm]; edges: names of the edge it lies on, or of
    the two edges that meet there.
    """

    distance_mm: float
    point: Array
    edges: tuple[str, ...]

    @property
    def zone(self) -> str:
        """The place in words: "tooth tips", "toe corner" (toe meets tooth tips), "back face and outside corner"."""
        names = sorted(set(self.edges))
        corners = [name for name in names if name.endswith("corner")]  # the arcs of a grown section
        if len(names) == 1 or corners:
            return (corners or names)[0]
        return " and ".join(name for name in names if name != "tooth tips") + " corner"


def nearest(section: Section, point: Array) -> Nearest:
    """The place on the outline nearest to a point (2,) in (r, z) [mm].

    >>> square = Section(np.array([[10.0, 0], [20, 0], [20, 10], [10, 10]]), ("tooth tips", "heel", "back face", "toe"))
    >>> found = nearest(square, np.array([7.0, -4.0]))
    >>> found.distance_mm, found.point.tolist(), found.zone
    (5.0, [10.0, 0.0], 'toe corner')
    """
    return _places(section, np.asarray(point, float)[None])[0]


def feet(section: Section, points: Array) -> tuple[Array, NDArray[np.intp], Array]:
    """The foot on the outline of points (n, 2) [mm]: place (n, 2) [mm], edge (n,), how far along the edge, 0 to 1 (n,).

    Works on (n, edges) arrays at once: for up to some ten thousand points.
    """
    starts, ends = section.points, np.roll(section.points, -1, axis=0)
    sides = ends - starts
    length2 = np.maximum((sides**2).sum(axis=1), np.finfo(float).tiny)
    along = np.clip(((points[:, None] - starts) * sides).sum(axis=-1) / length2, 0.0, 1.0)
    away = points[:, None] - starts - along[..., None] * sides
    away2 = np.where(_off_axis(section), (away**2).sum(axis=-1), np.inf)
    edge = away2.argmin(axis=1)
    row = np.arange(len(points))
    return points - away[row, edge], edge, along[row, edge]


def _places(section: Section, points: Array) -> list[Nearest]:
    """The nearest place for each of a few points (n, 2)."""
    found = []
    for distance, foot, edge, along in zip(signed_distance(section, points), *feet(section, points), strict=True):
        names = [section.edges[edge]]
        if along == 1.0:
            names.append(section.edges[(edge + 1) % len(section.edges)])
        elif along == 0.0:
            names.insert(0, section.edges[edge - 1])
        found.append(Nearest(float(distance), foot, tuple(names)))
    return found


def grown(section: Section, by_mm: float, *, arc_segments: int) -> Section:
    """The section grown by at least `by_mm` all round, with `arc_segments` segments a quarter turn at its corners.

    Its Minkowski sum with the regular polygon drawn round the circle of radius `by_mm`, whose corners stand at
    by_mm / cos(pi / (4 N)): it never falls short, and is over by less than 2e-5 of by_mm at N = 128 (DESIGN 4). What
    would reach past the axis ends at r = 0; a hole that closes up counts as metal. Each new edge is named after the
    zone of the old outline it came from. Raises InputError if `by_mm` is negative.
    """
    from shapely import MultiPoint, Polygon, union_all

    if not 0 <= by_mm < np.inf:
        raise refuse(section.name, f"cannot grow a section by {by_mm} mm", "a clearance is zero or more")
    if by_mm == 0:
        return section
    turn = (np.arange(4 * arc_segments) + 0.5) * (np.pi / (2 * arc_segments))
    circle = by_mm / np.cos(np.pi / (4 * arc_segments)) * np.stack([np.cos(turn), np.sin(turn)], axis=1)
    corners = pairwise([*section.points, section.points[0]])
    strips = [MultiPoint(np.vstack([circle + a, circle + b])).convex_hull for a, b in corners]
    return _section(union_all([Polygon(section.points), *strips]), (section,), section.name)


def united(sections: tuple[Section, ...]) -> tuple[Section, ...]:
    """Several turning bodies as their union: sections that do not overlap, so that a depth inside is a true depth.

    A cavity closed all round counts as metal; each edge is named after the zone of the body it came from.
    """
    from shapely import Polygon, union_all

    polygons = [Polygon(section.points) for section in sections]
    whole = union_all(polygons)
    pieces = []
    for piece in getattr(whole, "geoms", (whole,)):
        own = tuple(s for s, polygon in zip(sections, polygons, strict=True) if piece.intersects(polygon))
        pieces.append(_section(piece, own, " and ".join(section.name for section in own)))
    return tuple(pieces)


def _section(polygon: Any, sources: tuple[Section, ...], name: str) -> Section:
    """A shapely polygon as a section, its edges named after the nearest zones of the sections it was made from."""
    from shapely import box

    low_r, low_z, high_r, high_z = polygon.bounds
    if low_r < 0:
        polygon = polygon.intersection(box(0.0, low_z, high_r, high_z))
    points = np.asarray(polygon.exterior.coords)[:-1]
    points = points if polygon.exterior.is_ccw else points[::-1].copy()
    middles = (points + np.roll(points, -1, axis=0)) / 2
    candidates = zip(*(_places(source, middles) for source in sources), strict=True)
    edges = tuple(min(places, key=lambda place: abs(place.distance_mm)).zone for places in candidates)
    return Section(points, edges, name)
