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
    """A distance no less than that from each place of the cut to the as-cast surface, (ns, nt) [mm]; 0 where untouched.

    Seen at the place's own clock: to where the rays of neighbouring stations leave the metal, and to the end face.
    """
    cast = radii(mesh, stations, grid.clocks)[1]
    cast = np.where(cast > mesh.bore.diameter_mm / 2, cast, np.inf)
    i, j = np.nonzero(grid.depth > 0)
    place, radius = grid.stations[i], grid.cut[i, j]
    bound = np.zeros(grid.depth.shape)
    bound[i, j] = np.minimum(
        grid.depth[i, j],
        np.hypot(place[:, None] - stations, radius[:, None] - cast[:, j].T).min(axis=1, initial=np.inf),
    )
    face = float(-mesh.vertices[:, 0].max())
    if stations[0] <= face:
        bound[i, j] = np.where(radius <= cast[0, j], np.minimum(bound[i, j], place - face), bound[i, j])
    return bound


def _tried(mesh: BossMesh, grid: Grid, bound: Array) -> Array:
    """Distance of the grid's places on the cut to the as-cast surface, (ns, nt) [mm]; an upper bound where not tried.

    None of those not tried is above the largest by more than a hair.
    """
    found, best = bound.copy(), 0.0
    order = np.argsort(-bound, axis=None)[: int((bound > 0).sum())]
    if len(order) == 0:
        return found
    i, j = np.unravel_index(order, bound.shape)
    points, bounds = from_polar(grid.stations[i], grid.cut[i, j], grid.clocks[j]), bound[i, j]
    pieces = _as_cast(mesh, points, float(bounds[0]))
    centres = pieces.mean(axis=1)
    radius = np.linalg.norm(pieces - centres[:, None], axis=2).max(axis=1)
    for n, (point, at_most) in enumerate(zip(points, bounds, strict=True)):
        if at_most <= best * _HARDLY:
            break
        close = np.linalg.norm(centres - point, axis=1) <= radius + at_most
        found[i[n], j[n]] = min(float(distance_to(point[None], pieces[close])[0]), float(at_most))
        best = max(best, found[i[n], j[n]])
    return np.minimum(found, best)


def _as_cast(mesh: BossMesh, points: Array, within_mm: float) -> Array:
    """Triangles (m, 3, 3) of the mesh within reach of the points, those of the bore left out; boss frame."""
    masks = [np.hypot(mesh.vertices[:, 1], mesh.vertices[:, 2]) > mesh.bore.diameter_mm / 2 + BORE_SKIN_MM]
    for axis, (low, high) in enumerate(zip(points.min(axis=0), points.max(axis=0), strict=True)):
        masks += [mesh.vertices[:, axis] >= low - within_mm, mesh.vertices[:, axis] <= high + within_mm]
    pieces: Array = mesh.vertices[touching(mesh.triangles, *masks)]
    return pieces
