"""A scan made ready: points spread over its surface, its patches, and which of those lie near what was picked."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from geartrack.boss.mesh import Triangles
from geartrack.boss.scan.picks import Picks
from geartrack.boss.scan.points import CLOSE_MM, Patches, areas, drawn, occupied, patches, usual_side_mm
from geartrack.errors import refuse
from geartrack.frame import Array

SEED = 20261125
ENOUGH = 300
"""Points on a datum; where fewer of those chosen are, all of the scan's vertices are tried."""

_POINTS, _PATCH_POINTS, _SOME = 200_000, 14, 100_000
_PATCH_MM = (1.2, 1.7, 2.4, 3.4, 4.8)  # patch sizes tried, till one holds points enough
_NEAR_PICK_MM = 4.0


@dataclass(frozen=True, eq=False)
class Scene:
    """A scan made ready: points spread over its surface (n, 3) [mm], each for so much of it [mm2], and its patches.

    A scan's own vertices where they stand close, since one that strayed spoils one point and not all its triangles; of
    coarse facets, points drawn from them. vertices: all of the scan's own [mm].
    """

    vertices: Array
    points: Array
    area_each_mm2: float
    patches: Patches
    patch_mm: float
    by_vertices: bool


def scene(vertices: Array, triangles: Triangles, *, by_vertices: bool = True) -> Scene:
    """Points and patches of a scan, vertices (n, 3) [mm]; by_vertices: where those stand close enough."""
    rng = np.random.default_rng(SEED)
    some = triangles if len(triangles) <= _SOME else triangles[rng.integers(len(triangles), size=_SOME)]
    total = float(areas(vertices, some).mean()) * len(triangles)
    if not total > 0:
        raise refuse("scan", "has no surface", "a scan of the case")
    by_vertices = by_vertices and usual_side_mm(vertices, triangles, rng) < CLOSE_MM
    if by_vertices:
        chosen = np.unique(rng.integers(len(vertices), size=_POINTS)) if len(vertices) > _POINTS else slice(None)
        points = vertices[chosen]
    else:
        points = drawn(vertices, triangles, areas(vertices, triangles), _POINTS, rng)
    size = next((size for size in _PATCH_MM if len(points) >= _PATCH_POINTS * occupied(points, size)), _PATCH_MM[-1])
    return Scene(vertices, points, total / max(len(points), 1), patches(points, size), size, by_vertices)


def near_picks(seen: Scene, picks: Picks, *names: str) -> NDArray[np.bool_] | None:
    """Which patches lie near the points picked for something; None where nothing was picked for it."""
    points = [picks[name] for name in names if name in picks]
    if not points:
        return None
    near: NDArray[np.bool_] = np.zeros(len(seen.patches.weight), bool)
    for point in np.concatenate(points):
        near |= ((seen.patches.centres - point) ** 2).sum(axis=1) < (_NEAR_PICK_MM + 2 * seen.patch_mm) ** 2
    return near
