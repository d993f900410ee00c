"""Surfaces and sections shared by the gap's tests, and a sampled gap that knows nothing of the certified one.

Every size is invented. Surfaces are in the axle frame: the pinion axis is y = OFFSET, z = 0.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import shapely

from geartrack.boss.mesh import Bore, BossMesh, PlacedBoss
from geartrack.frame import Hand, Seat
from geartrack.section import Section

OFFSET = 54.0
END_FACE = 50.0


def section(*points: tuple[float, float], edges: tuple[str, ...] | None = None, name: str = "ring") -> Section:
    return Section(np.array(points, float), edges or tuple(f"edge {i}" for i in range(len(points))), name)


RING = section(
    *((86, 23.4), (120, 14), (122, 30), (112, 46), (90, 46), (87.2, 32)),
    edges=("tooth tips", "heel", "outside", "back face", "bore", "toe"),
)
CONCAVE = section(  # a recess in the back face, another under the toe
    *((86, 23.4), (120, 14), (122, 30), (112, 46), (108, 46), (108, 40), (96, 40), (96, 46), (90, 46), (92, 32)),
    edges=("tooth tips", "heel", "outside", "back face", *["bolt recess"] * 3, "back face", "bore", "toe"),
)
FLAT = section((60, 28), (115, 28), (115, 45), (60, 45), edges=("tooth tips", "heel", "back face", "toe"))
NOSE = section(
    *((80, 20), (100, 30), (100, 45), (70, 45), (70, 30)), edges=("tooth tips", "heel", "back face", "bore", "toe")
)
WAISTED = section((0, 10), (60, -10), (60, 60), (0, 40), edges=("front", "outside", "back", "axis"))
SOLID = section((0, 20), (70, 24), (90, 40), (0, 46), edges=("tooth tips", "heel", "back face", "axis"))


def cylinder(radius: float, x0: float, x1: float, around: int, along: int = 1, phase: float = 0.0) -> Any:
    """A closed cylinder about the pinion axis, its vertices on the true surface: (vertices, triangles)."""
    t = phase + np.arange(around) * 2 * np.pi / around
    x = np.repeat(np.linspace(x0, x1, along + 1), around)
    q = np.tile(np.stack([np.sin(t), np.cos(t)]), along + 1) * radius
    ends = [[x0, OFFSET, 0.0], [x1, OFFSET, 0.0]]
    vertices = np.vstack([np.stack([x, OFFSET + q[0], q[1]], axis=1), ends])
    i, j = (a.ravel() for a in np.meshgrid(np.arange(along), np.arange(around), indexing="ij"))
    a, b = i * around + j, i * around + (j + 1) % around
    sides = np.vstack([np.stack([a, a + around, b + around], 1), np.stack([a, b + around, b], 1)])
    j = np.arange(around)
    near, far = j, along * around + j
    first = np.stack([np.full(around, len(vertices) - 2), near, np.roll(near, -1)], 1)
    last = np.stack([np.full(around, len(vertices) - 1), np.roll(far, -1), far], 1)
    return vertices, np.vstack([sides, first, last]).astype(np.int32)


def box(low: tuple[float, float, float], high: tuple[float, float, float]) -> Any:
    """A closed box of 12 triangles."""
    import trimesh

    made = trimesh.creation.box(bounds=[low, high])
    return np.array(made.vertices), np.array(made.faces, np.int32)


def sphere(centre: tuple[float, float, float], radius: float, subdivisions: int) -> Any:
    """An icosphere with its vertices on the sphere, and how far its facets fall short of it: (v, t, short)."""
    import trimesh

    made = trimesh.creation.icosphere(subdivisions=subdivisions, radius=radius)
    short = radius - np.linalg.norm(made.triangles_center, axis=1).min()
    return np.array(made.vertices) + centre, np.array(made.faces, np.int32), float(short)


def joined(*parts: Any) -> Any:
    """Several surfaces as one (overlapping or not: a gap does not mind)."""
    first = np.cumsum([0, *(len(v) for v, _ in parts)])
    return np.vstack([v for v, _ in parts]), np.vstack([t + n for (_, t), n in zip(parts, first, strict=False)])


def placed(surface: Any, *, hand: Hand = Hand.BELOW, short_mm: float = 0.0, proud_mm: float = 0.0) -> PlacedBoss:
    """A surface given in the axle frame as a boss of a real part of this hand, placed where it was."""
    vertices, triangles = surface
    seat = Seat(OFFSET, END_FACE, hand)
    triangles = triangles if hand is Hand.BELOW else triangles[:, ::-1]
    mesh = BossMesh(seat.to_boss(vertices), triangles, Bore(30.0, 15.0, 2.0, 13.0), short_mm, proud_mm)
    return PlacedBoss(mesh, seat)


def _grid(per_edge: int) -> Any:
    """Barycentric weights (k, 3) of an even grid on a triangle."""
    i, j = (a.ravel() for a in np.meshgrid(np.arange(per_edge + 1), np.arange(per_edge + 1), indexing="ij"))
    i, j = i[i + j <= per_edge] / per_edge, j[i + j <= per_edge] / per_edge
    return np.stack([1 - i - j, i, j], axis=1)


def samples(surface: Any, per_edge: int) -> Any:
    """Points (triangles, k, 3) all over a surface: an even grid on each triangle."""
    vertices, triangles = surface
    return np.einsum("pc,tcx->tpx", _grid(per_edge), vertices[triangles])


def outline_of(shape: Section) -> Any:
    """A section's surface as a shapely line, edges on r = 0 left out."""
    ends = np.roll(shape.points, -1, axis=0)
    keep = (shape.points[:, 0] > 0) | (ends[:, 0] > 0)
    return shapely.multilinestrings([np.stack([a, b]) for a, b in zip(shape.points[keep], ends[keep], strict=True)])


def shapely_distance(shape: Section, points: Any) -> Any:
    """Signed distance of (r, z) points by shapely: to the outline (its distance is 0 inside), the sign put on."""
    away = shapely.distance(shapely.points(points), outline_of(shape))
    inside = shapely.contains_xy(shapely.Polygon(shape.points), points[:, 0], points[:, 1])
    return np.where(inside, -away, away)


def sampled_gap(surface: Any, shape: Section, per_edge: int) -> float:
    """The least signed distance of samples, by shapely: an even grid, then 30 times finer about the 40 best of them.

    Never under the true gap.
    """
    cloud = samples(surface, per_edge)
    first = _distances(shape, cloud)
    triangle, place = np.unravel_index(np.argsort(first, axis=None)[:40], first.shape)
    weights = _grid(per_edge)[place][:, None] + (_grid(60) - 1 / 3) * 3 / per_edge
    corners = surface[0][surface[1]][triangle]
    fine = np.einsum("npc,ncx->npx", weights, corners)[(weights >= 0).all(axis=2)]
    return float(min(first.min(), _distances(shape, fine).min()))


def _distances(shape: Section, points: Any) -> Any:
    flat = points.reshape(-1, 3)
    found = shapely_distance(shape, np.stack([np.hypot(flat[:, 0], flat[:, 1]), flat[:, 2]], axis=1))
    return found.reshape(points.shape[:-1])
