"""Certified lower bounds of the distance between triangles and a solid of revolution.

Write f for the signed distance of (r, z) to the section and f(v) for its value at a corner v of a triangle. Two facts
carry every bound:

1. f is 1-Lipschitz in space, so f >= f(v) - reach over the triangle, reach being v's longest edge.
2. Take the foot of v on the outline and the half-plane through it, square to the line v - foot, that holds the section
   near the foot. As long as no part of the section beyond that half-plane is close enough to matter, f is at least the
   signed distance to the half-plane, n_r r + n_z z - const. Over the flat triangle r = hypot(x, y) is convex; where
   n_r >= 0 it is bounded below by its tangent at v, where n_r < 0, -r is concave and bounded below by its values at the
   corners. Either way a function that is linear over the triangle bounds f from below.

The larger of two such linear functions (from two corners) is again a bound; its least value over the triangle lies at a
corner or where they cross on an edge. That makes flat against flat exact at once, and errors elsewhere fall with the
square of the triangle's size; pairs matter where a ring corner dips into a face, since f has a crease there.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from geartrack.frame import Array
from geartrack.section import Section
from geartrack.sweep import feet, signed_distance
from geartrack.tolerances import TOLERANCES

SLACK_MM = TOLERANCES.mesh_mm  # far above rounding at this size, far below any gap's tolerance
_AT_ONCE = 400_000  # corner-and-edge pairs worked on at a time
_NEXT = (1, 2, 0)  # the corner after each corner


@dataclass(frozen=True, eq=False)
class Outline:
    """A section with what its bounds need.

    normals : (edges, 2), outward, of length 1 [-]
    starts, sides : (k, 2) [mm], the edges off the axis, with their mirror images in the axis if the section reaches it
    convex : no half-plane at a foot ever leaves a part of the section outside
    """

    section: Section
    normals: Array
    starts: Array
    sides: Array
    convex: bool


def outline(section: Section) -> Outline:
    """The section prepared for bounds."""
    points = section.points
    sides = np.roll(points, -1, axis=0) - points
    length = np.maximum(np.hypot(*sides.T), np.finfo(float).tiny)
    normals = np.stack([sides[:, 1], -sides[:, 0]], axis=1) / length[:, None]
    surface = (points[:, 0] > 0) | (points[:, 0] + sides[:, 0] > 0)
    starts, sides, corners = points[surface], sides[surface], points
    if not surface.all():
        mirror = np.array([-1.0, 1.0])
        starts, sides, corners = (np.vstack([a, a * mirror]) for a in (starts, sides, corners))
    heights = corners @ normals[surface].T - (points * normals).sum(axis=1)[surface]
    return Outline(section, normals, starts, sides, bool((heights <= SLACK_MM).all()))


def lower_bounds(shape: Outline, corners: Array) -> tuple[Array, Array]:
    """Bounds for triangles (n, 3, 3) [mm] in the turning body's frame: lower (n,), and f at the corners (n, 3) [mm]."""
    size = max(1, _AT_ONCE // (3 * len(shape.starts)))
    blocks = [_block(shape, corners[start : start + size]) for start in range(0, len(corners), size)]
    return np.concatenate([low for low, _ in blocks]), np.concatenate([f for _, f in blocks])


def _block(shape: Outline, corners: Array) -> tuple[Array, Array]:
    x, y, z = np.moveaxis(corners, -1, 0)
    r = np.hypot(x, y)
    f, normal, free = (a.reshape(len(corners), 3, -1) for a in _half_planes(shape, np.stack([r, z], -1).reshape(-1, 2)))
    edges = np.linalg.norm(corners - corners[:, _NEXT], axis=-1)
    reach = np.maximum(edges, edges[:, (2, 0, 1)])[..., None]
    safe = np.maximum(r, np.finfo(float).tiny)[..., None]
    dx, dy, dr, dz = (a[:, None, :] - a[:, :, None] for a in (x, y, r, z))  # [triangle, from corner, to corner]
    tangent = (x[..., None] * dx + y[..., None] * dy) / safe
    n_r, n_z = normal[..., :1], normal[..., 1:]
    planes = f + n_r * np.where(n_r < 0, dr, tangent) + n_z * dz
    planes = np.where(free < np.abs(f) + 2 * reach, f - reach, planes)
    lower = np.maximum((f - reach).max(axis=(1, 2)), _least_of_larger(planes, planes[:, _NEXT]).max(axis=1))
    return lower - SLACK_MM, f[..., 0]


def _half_planes(shape: Outline, points: Array) -> tuple[Array, Array, Array]:
    """At each point (n, 2): f (n,), the unit normal of the half-plane at its foot (n, 2), and `free` (n,).

    No part of the section beyond the half-plane is nearer to the point than `free` [mm]. For points of a triangle
    within `reach` of the point, |f| <= |f(v)| + reach decides how much of the section can matter, so the half-plane
    holds if free >= |f(v)| + 2 reach.
    """
    f = signed_distance(shape.section, points)
    foot, edge, along = feet(shape.section, points)
    at_corner = ((along == 0) | (along == 1)) & (np.abs(f) > SLACK_MM)
    from_foot = (points - foot) / np.where(at_corner, f, 1.0)[:, None]
    normal = np.where(at_corner[:, None], from_foot, shape.normals[edge])
    if shape.convex:
        return f, normal, np.full(len(points), np.inf)
    return f, normal, _nearest_beyond(shape, points, foot, normal)


def _nearest_beyond(shape: Outline, points: Array, foot: Array, normal: Array) -> Array:
    """Distance of each point (n, 2) to the part of the outline that lies beyond its half-plane; inf where none does."""
    start = ((shape.starts - foot[:, None]) * normal[:, None]).sum(axis=-1)
    rise = normal @ shape.sides.T
    end = start + rise
    crossing = -start / np.where(rise == 0, 1.0, rise)
    first = np.where(start > SLACK_MM, 0.0, crossing)
    last = np.where(end > SLACK_MM, 1.0, crossing)
    from_start = points[:, None] - shape.starts
    length2 = np.maximum((shape.sides**2).sum(axis=1), np.finfo(float).tiny)
    along = np.clip((from_start * shape.sides).sum(axis=-1) / length2, first, last)
    away = np.linalg.norm(from_start - along[..., None] * shape.sides, axis=-1)
    beyond: Array = np.where(np.maximum(start, end) > SLACK_MM, away, np.inf).min(axis=1)
    return beyond


def _least_of_larger(a: Array, b: Array) -> Array:
    """Least value over triangles of max(a, b), both linear and given at the corners (..., 3)."""
    d = a - b
    rise, drop = a[..., _NEXT] - a, d - d[..., _NEXT]
    crosses = (d > 0) != (d[..., _NEXT] > 0)
    crossing = np.where(crosses, a + d / np.where(crosses, drop, 1.0) * rise, np.inf)
    least: Array = np.minimum(np.maximum(a, b), crossing).min(axis=-1)
    return least
