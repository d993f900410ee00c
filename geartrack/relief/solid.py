"""Solids for the boolean kernel: a boss's mesh, a section turned about the ring axis, and what comes back as triangles.

Everything is in the boss frame of geartrack.frame: millimetres, the real part's hand.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from geartrack.boss.mesh import BossMesh, PlacedBoss, Triangles
from geartrack.errors import refuse
from geartrack.frame import Array, Seat
from geartrack.section import Section
from geartrack.sweep import grown

if TYPE_CHECKING:
    from manifold3d import Manifold

ARCS = 32  # segments a quarter turn round a grown section's corners: over by 3e-4 of the growth
_STEP = np.radians(0.25)  # of the turn about the ring axis
_FACET_MM = 0.5  # of the section's sides where they come near the boss, so that colours have corners to sit on
_SPARE = np.radians(3.0)
_MERGE_MM = 1e-4  # corners nearer than this become one: files of single precision would confuse them


def as_solid(mesh: BossMesh, whose: str) -> Manifold:
    """A boss's mesh as a solid, boss frame; raises InputError where its surface is not closed."""
    made = of_triangles(mesh.vertices, mesh.triangles)
    if made.is_empty() or made.volume() <= 0:
        what = "the boss's surface is not closed, so no solid can be made of it"
        raise refuse(whose, what, "a boss by parts or by readings, or a scan without holes")
    return made


def of_triangles(vertices: Array, triangles: NDArray[Any]) -> Manifold:
    """Triangles (m, 3) of vertices (n, 3) [mm] as the kernel's solid; an empty one where they are not closed."""
    from manifold3d import Manifold, Mesh64

    return Manifold(
        Mesh64(
            vert_properties=np.ascontiguousarray(vertices, np.float64),
            tri_verts=np.ascontiguousarray(triangles, np.uint64),
        )
    )


def triangles_of(solid: Manifold) -> tuple[Array, Triangles]:
    """Vertices (n, 3) [mm] and triangles (m, 3) of a solid, corners that a file could not tell apart made one."""
    mesh = solid.simplify(_MERGE_MM).to_mesh64()
    return np.array(mesh.vert_properties)[:, :3], np.array(mesh.tri_verts).astype(np.int32)


def around(boss: PlacedBoss) -> tuple[float, float]:
    """From where to where about the ring axis a boss lies, a little to spare at both ends [rad]; all round at most."""
    x, y, _ = boss.vertices.T
    middle = np.arctan2(y.mean(), x.mean())
    off = (np.arctan2(y, x) - middle + np.pi) % (2 * np.pi) - np.pi
    low, high = off.min() - _SPARE, off.max() + _SPARE
    if high - low > np.pi:
        return -np.pi, np.pi
    return float(middle + low), float(middle + high)


def sweep_over(boss: PlacedBoss, section: Section, by_mm: float) -> tuple[Manifold, float]:
    """The sweep grown by `by_mm` [mm] near a boss, in flat facets that hold all of it; and how far they stand over it.

    A facet's middle stands nearer to the axis than its ends, by r (1 - cos h): the growth is that much more, and where
    the teeth face the axis a facet's middle is over by as much again.
    """
    deep = _sagitta(section)
    over = 2 * deep + (by_mm + deep) * (1 / np.cos(np.pi / (4 * ARCS)) - 1)
    return _swept(boss, section, by_mm + deep), float(over)


def sweep_under(boss: PlacedBoss, section: Section, by_mm: float) -> Manifold:
    """The sweep grown by `by_mm` [mm] near a boss, in flat facets that hold nothing beyond it."""
    return _swept(boss, section, by_mm * np.cos(np.pi / (4 * ARCS)) - _sagitta(section))


def _sagitta(section: Section) -> float:
    return float(section.points[:, 0].max() * (1 / np.cos(_STEP / 2) - 1))


def _swept(boss: PlacedBoss, section: Section, by_mm: float) -> Manifold:
    start, end = around(boss)
    outline = grown(section, by_mm, arc_segments=ARCS).points
    reach, top = np.hypot(*boss.vertices[:, :2].T).max(), boss.vertices[:, 2].max()
    return turned(_divided(outline, reach + _FACET_MM, top + _FACET_MM), start, end, boss.seat)


def ring(section: Section, seat: Seat) -> Manifold:
    """The whole ring, turned in flat facets that hold all of it; nowhere more than a few thousandths over."""
    holds_all = grown(section, _sagitta(section), arc_segments=1).points
    return turned(holds_all, -np.pi, np.pi, seat)


def _divided(outline: Array, reach_mm: float, top_mm: float) -> Array:
    """An outline (n, 2) in (r, z) [mm], its long sides near the boss divided."""
    points = []
    for a, b in zip(outline, np.roll(outline, -1, axis=0), strict=True):
        near = min(a[0], b[0]) < reach_mm and min(a[1], b[1]) < top_mm
        count = int(np.ceil(np.hypot(*(b - a)) / _FACET_MM)) if near else 1
        points.append(a + np.arange(count)[:, None] / count * (b - a))
    return np.concatenate(points)


def turned(outline: Array, start: float, end: float, seat: Seat) -> Manifold:
    """A closed outline (n, 2) in (r, z) [mm], counter-clockwise, turned about the ring axis; boss frame.

    start, end: from and to which angle about the ring axis, from X toward Y [rad]; a whole turn where they are one
    apart. Corners lie on the true surface.
    """
    from manifold3d import triangulate

    whole, n = end - start > 2 * np.pi - _STEP, len(outline)
    steps = max(int(np.ceil((end - start) / _STEP)), 3)
    angle = (start + (end - start) * np.arange(steps + (not whole)) / steps)[:, None]
    r, z = outline.T
    points = np.stack([r * np.cos(angle), r * np.sin(angle), np.broadcast_to(z, (len(angle), n))], axis=-1)
    i, j = np.meshgrid(np.arange(steps), np.arange(n), indexing="ij")
    a, b = i * n + j, (i + 1) % len(angle) * n + j
    c, d = (k - j + (j + 1) % n for k in (a, b))
    sides = [np.stack(three, axis=-1).reshape(-1, 3) for three in ((a, b, d), (a, d, c))]
    caps = [] if whole else [(cap := np.asarray(triangulate([outline]))), cap[:, ::-1] + steps * n]
    triangles = np.concatenate([*sides, *caps])
    vertices = seat.to_boss(points.reshape(-1, 3))
    made = of_triangles(vertices, triangles if seat.hand.sign > 0 else triangles[:, ::-1])
    return made if made.original_id() >= 0 else made.as_original()


def united(solids: Sequence[Manifold]) -> Manifold:
    """Several solids as one."""
    from manifold3d import Manifold, OpType

    return Manifold.batch_boolean(list(solids), OpType.Add)
