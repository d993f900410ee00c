"""The largest distance from the cut surface to the as-cast surface."""

from __future__ import annotations

import numpy as np

from geartrack.boss.mesh import BossMesh, PlacedBoss
from geartrack.frame import Array, from_polar
from geartrack.relief.crossings import BORE_SKIN_MM, radii
from geartrack.relief.grid import Grid, shoot
from geartrack.relief.search import Peak, peak
from geartrack.relief.sweep_field import GrownSweep
from geartrack.relief.triangles import distance_to, touching

_BATCH = 32
_HARDLY = 1.001  # a place that could beat the deepest found by no more than this is not tried


def deepest_cut(boss: PlacedBoss, sweep: GrownSweep, grid: Grid) -> Peak:
    """The largest distance from the cut surface to the as-cast surface, the bore left out; see peak for the spacing.

    Of a grid's places on the cut surface only those are measured against the mesh that could be the deepest.
    """

    def depths(shot: Grid) -> Array:
        bound = _bound(boss.mesh, shot, grid.stations)
        return _tried(boss.mesh, shot, bound)

    return peak(
        lambda s, t: depths(shoot(boss, sweep, s, t)),
        *(grid.stations, grid.clocks),
        scale_mm=(1.0, float(grid.cut.max())),
        values=depths(grid),
    )


def _bound(mesh: BossMesh, grid: Grid, stations: Array) -> Array:
    """About how far each place of the cut is from the as-cast surface, or more, (ns, nt) [mm]; 0 where untouched.

    Seen at the place's own clock, in (station, radius): to the outside as strung from ray to ray, and to the end face;
    exactly the distance where the boss is turned about its bore.
    """
    cast, bore = radii(mesh, stations, grid.clocks)[1], mesh.bore.diameter_mm / 2
    face = float(-mesh.vertices[:, 0].max())
    if stations[0] <= face:
        stations, cast = np.append(face, stations), np.concatenate([np.full((1, cast.shape[1]), bore), cast])
    i, j = np.nonzero(grid.depth > 0)
    outline = np.stack([np.broadcast_to(stations[:, None], cast.shape), cast], axis=-1)[:, j]
    side, start = np.diff(outline, axis=0), outline[:-1]
    away = np.stack([grid.stations[i], grid.cut[i, j]], axis=1) - start
    along = (away * side).sum(axis=2) / np.maximum((side**2).sum(axis=2), np.finfo(float).tiny)
    away -= np.clip(along, 0.0, 1.0)[..., None] * side
    away = np.hypot(away[..., 0], away[..., 1])
    away[(cast[1:, j] <= bore) | ((cast[:-1, j] <= bore) & (start[..., 0] > face))] = np.inf  # no metal, so no outside
    bound = np.zeros(grid.depth.shape)
    bound[i, j] = np.minimum(away.min(axis=0, initial=np.inf), grid.depth[i, j])
    return bound


def _tried(mesh: BossMesh, grid: Grid, bound: Array) -> Array:
    """Distance of the grid's places on the cut to the as-cast surface, (ns, nt) [mm]; the bound where not tried.

    Tried from the most promising down, until the bounds are below the largest found by as much as any has been out.
    """
    found, best, loose = bound.copy(), 0.0, 0.0
    order = np.argsort(-bound, axis=None)[: int((bound > 0).sum())]
    if len(order) == 0:
        return found
    i, j = np.unravel_index(order, bound.shape)
    points, reach = from_polar(grid.stations[i], grid.cut[i, j], grid.clocks[j]), grid.depth[i, j]
    pieces = _as_cast(mesh, points, float(reach.max()))
    for start in range(0, len(order), _BATCH):
        if bound[i[start], j[start]] <= best * _HARDLY - loose:
            break
        batch = slice(start, start + _BATCH)
        apart = distance_to(points[batch], pieces, reach[batch])
        loose = max(loose, float((bound[i[batch], j[batch]] - apart).max()))
        found[i[batch], j[batch]] = apart
        best = max(best, float(apart.max()))
    return np.minimum(found, best)


def _as_cast(mesh: BossMesh, points: Array, within_mm: float) -> Array:
    """Triangles (m, 3, 3) of the mesh within reach of the points, those of the bore left out; boss frame."""
    masks = [np.hypot(mesh.vertices[:, 1], mesh.vertices[:, 2]) > mesh.bore.diameter_mm / 2 + BORE_SKIN_MM]
    for axis, (low, high) in enumerate(zip(points.min(axis=0), points.max(axis=0), strict=True)):
        masks += [mesh.vertices[:, axis] >= low - within_mm, mesh.vertices[:, axis] <= high + within_mm]
    pieces: Array = mesh.vertices[touching(mesh.triangles, *masks)]
    return pieces
