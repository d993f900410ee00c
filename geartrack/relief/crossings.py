"""Where rays square to the bore axis leave the metal."""

from __future__ import annotations

import numpy as np

from geartrack.boss.mesh import BossMesh, Triangles
from geartrack.frame import Array
from geartrack.relief.triangles import Index, counted, normals, touching

BORE_SKIN_MM = 0.01  # a crossing this close to the bore's radius is the bore itself; a thinner wall counts as none
_ROUNDING = 1e-12


def radii(mesh: BossMesh, stations: Array, clocks: Array) -> tuple[Array, Array]:
    """Where rays from the bore axis at stations (ns,) [mm] and clocks (nt,) [rad] leave the metal, boss frame.

    Returns the radius at which each first and last leaves it, outside the bore, both (ns, nt) [mm]; the bore's radius
    where it meets none. `clocks` ascend and span at most one turn. A station on an end face counts as just inside the
    face of lesser station.
    """
    bore = mesh.bore.diameter_mm / 2
    start, end, normal, row = _slices(mesh.vertices, _near(mesh, stations, clocks), stations)
    segment, column = _clocks_met(start, end, clocks)
    heading = np.stack([np.sin(clocks), np.cos(clocks)], axis=1)[column]
    radius = _along(start[segment], end[segment], heading)
    leaving = (radius > bore + BORE_SKIN_MM) & ((normal[segment] * heading).sum(axis=1) > 0)
    ray, radius = (row[segment] * len(clocks) + column)[leaving], radius[leaving]
    first, last = np.full((2, len(stations) * len(clocks)), [[np.inf], [bore]])
    np.minimum.at(first, ray, radius)
    np.maximum.at(last, ray, radius)
    first[np.isinf(first)] = bore
    return first.reshape(len(stations), -1), last.reshape(len(stations), -1)


def _near(mesh: BossMesh, stations: Array, clocks: Array) -> Triangles:
    """Triangles outside the bore's skin that the rays may meet."""
    x, y, z = mesh.vertices.T
    masks = [
        y**2 + z**2 > (mesh.bore.diameter_mm / 2 + BORE_SKIN_MM) ** 2,
        -x <= stations.max(),
        -x > stations.min(),
    ]
    if clocks[-1] - clocks[0] < np.pi / 2:
        low, high = clocks[0] - _ROUNDING, clocks[-1] + _ROUNDING
        masks += [y * np.cos(low) >= z * np.sin(low), y * np.cos(high) <= z * np.sin(high)]
        masks += [y * np.sin(low) + z * np.cos(low) > 0]
    return touching(mesh.triangles, *masks)


def _slices(vertices: Array, triangles: Triangles, stations: Array) -> tuple[Array, Array, Array, Index]:
    """Triangles cut by the planes of the stations: segments' ends and outward normals, (m, 2) in (y, z), and rows."""
    corners = vertices[triangles]
    order = np.argsort(-corners[..., 0], axis=1)
    normal = normals(corners)[:, 1:]
    corners = np.take_along_axis(corners, order[..., None], axis=1)
    at = -corners[..., 0]
    owner, row = counted(np.searchsorted(stations, at[:, 0]), np.searchsorted(stations, at[:, 2]))
    corners, at, level = corners[owner, :, 1:], at[owner], stations[row]

    def crossing(i: Index, j: Index) -> Array:
        n = np.arange(len(owner))
        share = (level - at[n, i]) / (at[n, j] - at[n, i])
        met: Array = corners[n, i] + share[:, None] * (corners[n, j] - corners[n, i])
        return met

    upper = (level >= at[:, 1]).astype(np.intp)
    lowest = np.zeros_like(upper)
    return crossing(lowest, lowest + 2), crossing(upper, upper + 1), normal[owner], row


def _clocks_met(start: Array, end: Array, clocks: Array) -> tuple[Index, Index]:
    """Which clock rays meet which segments: indices of segments and of clocks."""
    one, other = (np.arctan2(*p.T) for p in (start, end))
    turn = (other - one + np.pi) % (2 * np.pi) - np.pi
    low = (np.where(turn < 0, other, one) - clocks[0]) % (2 * np.pi) + clocks[0]
    pairs = []
    for back in (0.0, 2 * np.pi):
        from_, to = low - back - _ROUNDING, low - back + np.abs(turn) + _ROUNDING
        pairs.append(counted(np.searchsorted(clocks, from_), np.searchsorted(clocks, to, side="right")))
    return np.concatenate([p[0] for p in pairs]), np.concatenate([p[1] for p in pairs])


def _along(start: Array, end: Array, heading: Array) -> Array:
    """Radius at which rays (m, 2) meet segments in (y, z), (m,) [mm]; of a radial segment its outer end."""
    side = end - start
    across = heading[:, 0] * side[:, 1] - heading[:, 1] * side[:, 0]
    cross = start[:, 0] * side[:, 1] - start[:, 1] * side[:, 0]
    outer = np.maximum(np.hypot(*start.T), np.hypot(*end.T))
    flat = np.abs(across) <= _ROUNDING * outer
    return np.where(flat, outer, np.clip(cross / np.where(flat, 1.0, across), 0.0, outer))
