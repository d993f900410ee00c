"""Rays square to the bore axis: where they leave the metal, and where they first meet the grown sweep."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from geartrack.boss.mesh import BossMesh, Triangles
from geartrack.frame import Array, Seat, from_polar
from geartrack.relief.sweep_field import GrownSweep
from geartrack.relief.triangles import Index, counted, normals, touching

BORE_SKIN_MM = 0.01  # a crossing this close to the bore's radius is the bore itself; a thinner wall counts as none
_ROUNDING = 1e-12
_HALVINGS = 8  # then the rest by proportion
_UNDER = 33  # places looked at along a ray that passes under an untouched surface
_CLOSE_MM = 1e-4
_STEPS = 200  # a ray not settled by then grazes the sweep and stops short, on the side of the deeper cut


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


def cut_radii(
    sweep: GrownSweep, seat: Seat, *, stations: Array, clocks: Array, low: Array, high: Array
) -> tuple[Array, Array]:
    """Where rays first meet the grown sweep on their way out; arguments (k,), stations and radii [mm], clocks [rad].

    Returns the least radius between `low` and `high` that lies in the grown sweep, `high` where none does, and the
    least distance to the sweep met on the way, negative where it is met [mm].
    """
    origin = seat.to_axle(from_polar(stations, np.zeros_like(clocks), clocks))
    heading = seat.to_axle(from_polar(stations, np.ones_like(clocks), clocks)) - origin
    at_end = sweep.distance(origin + high[:, None] * heading)
    radius, least = _marched(lambda which, at: sweep.distance(origin[which] + at[:, None] * heading[which]), low, high)
    least = np.minimum(least, at_end)
    radius = np.where((radius >= high) & (at_end <= 0) & (low < high), np.nextafter(high, low), radius)
    under = np.flatnonzero((at_end > 0) & (radius < high))
    for share in np.linspace(0, 1, _UNDER) if len(under) else ():
        along = radius[under] + share * (high - radius)[under]
        least[under] = np.minimum(least[under], sweep.distance(origin[under] + along[:, None] * heading[under]))
    return radius, least


def cut_stations(
    sweep: GrownSweep, seat: Seat, *, radius: Array, clocks: Array, stations: Array, metal: NDArray[np.bool_]
) -> Array:
    """Where lines parallel to the bore first leave the cut, on their way in from the first of the stations, (k,) [mm].

    radius, clocks: (k,) of the lines; stations: (ns,), metal: (ns, k) where lines run in metal there. Tried at every
    station, then halved; a line that leaves the metal still within the sweep ends at the first station outside it.
    """
    origin = seat.to_axle(from_polar(np.zeros_like(clocks), radius, clocks))
    heading = seat.to_axle(from_polar(np.ones_like(clocks), radius, clocks)) - origin
    within = sweep.distance(origin + stations[:, None, None] * heading) < 0
    end = np.where((within & metal).all(axis=0), len(stations), (within & metal).argmin(axis=0))
    padded = np.append(stations, stations[-1])
    low, high = padded[np.maximum(end - 1, 0)], padded[end]
    still = np.take_along_axis(within, np.minimum(end, len(stations) - 1)[None], axis=0)[0]
    for _ in range(_HALVINGS):
        middle = (low + high) / 2
        inside = sweep.distance(origin + middle[:, None] * heading) < 0
        low, high = np.where(inside, middle, low), np.where(inside, high, middle)
    inside, outside = (np.abs(sweep.distance(origin + at[:, None] * heading)) for at in (low, high))
    share = inside / np.maximum(inside + outside, np.finfo(float).tiny)
    return np.where(still, padded[end], low + share * (high - low))


def _marched(value: Callable[[Index, Array], Array], start: Array, limit: Array) -> tuple[Array, Array]:
    """The first place from `start` to `limit` (k,) where value(which, places) <= 0, else `limit`; and the least value.

    Each step is the value itself; as that is 1-Lipschitz, no root is stepped over. Close to the root the last step's
    slope gives the rest of the way.
    """
    place, least, before = start.copy(), np.full(start.shape, np.inf), np.full(start.shape, np.inf)
    going = np.flatnonzero(limit > start)
    for _ in range(_STEPS):
        if not len(going):
            break
        now = value(going, place[going])
        least[going] = np.minimum(least[going], now)
        close = now <= _CLOSE_MM
        last = going[close & (now > 0) & (now < before[going])]
        slope = 1 - least[last] / before[last]
        place[last] += least[last] / slope
        going, now = going[~close], now[~close]
        place[going] += now
        before[going] = now
        going = going[place[going] < limit[going]]
    return np.minimum(place, limit), least
