"""The largest distance from the cut surface to the as-cast surface."""

from __future__ import annotations

import numpy as np

from geartrack.boss.mesh import BossMesh, PlacedBoss
from geartrack.frame import Array, from_polar
from geartrack.relief.crossings import BORE_SKIN_MM, radii
from geartrack.relief.grid import Grid, ends, shoot
from geartrack.relief.search import Peak, peak
from geartrack.relief.sweep_field import GrownSweep
from geartrack.relief.triangles import distance_to, touching

_BATCH, _SPARE = 32, 8
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

    Seen at the place's own clock, in (station, radius): to the outside as strung from ray to ray, and to the end faces;
    exactly the distance where the boss is turned about its bore.
    """
    cast, bore = radii(mesh, stations, grid.clocks)[1], mesh.bore.diameter_mm / 2
    metal, (first, last) = cast > bore, ends(mesh)
    faces = int(stations[0] <= first), int(stations[-1] >= last)
    stations, cast = np.pad(stations, faces, mode="edge"), np.pad(cast, (faces, (0, 0)), constant_values=bore)
    metal = np.pad(metal, (faces, (0, 0)), mode="edge")
    i, j = np.nonzero(grid.depth > 0)
    outline = np.stack([np.broadcast_to(stations[:, None], cast.shape), cast], axis=-1)[:, j]
    side = np.diff(outline, axis=0)
    away = np.stack([grid.stations[i], grid.cut[i, j]], axis=1) - outline[:-1]
    along = (away * side).sum(axis=2) / np.maximum((side**2).sum(axis=2), np.finfo(float).tiny)
    away -= np.clip(along, 0.0, 1.0)[..., None] * side
    apart = np.where((metal[:-1] & metal[1:])[:, j], np.hypot(away[..., 0], away[..., 1]), np.inf)
    bound = np.zeros(grid.depth.shape)
    bound[i, j] = np.minimum(apart.min(axis=0, initial=np.inf), grid.depth[i, j])
    return bound


def _tried(mesh: BossMesh, grid: Grid, bound: Array) -> Array:
    """Distance of the grid's places on the cut to the as-cast surface, (ns, nt) [mm]; the bound where not tried.

    Tried from the most promising down, until the bounds are below the largest found; and then, up to a limit, as far
    below it as any bound has been out.
    """
    found, best, loose, spare = bound.copy(), 0.0, 0.0, _SPARE
    order = np.argsort(-bound, axis=None)[: int((bound > 0).sum())]
    if len(order) == 0:
        return found
    i, j = np.unravel_index(order, bound.shape)
    points, reach = from_polar(grid.stations[i], grid.cut[i, j], grid.clocks[j]), grid.depth[i, j]
    pieces = _as_cast(mesh, points, float(reach.max()))
    for start in range(0, len(order), _BATCH):
        spare -= bound[i[start], j[start]] <= best * _HARDLY
        if spare < 0 or bound[i[start], j[start]] <= best * _HARDLY - loose:
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
