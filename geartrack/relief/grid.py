"""A grid of rays over the patch: cast and cut radius by station and clock."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from geartrack.boss.mesh import BossMesh, PlacedBoss
from geartrack.frame import Array, polar
from geartrack.relief.crossings import radii
from geartrack.relief.rays import cut_radii
from geartrack.relief.sweep_field import GrownSweep

_STEP_MM = 0.25  # the patch drawn through points this far apart is right to 0.02 mm (tests)
_FEWEST, _MOST = 32, 160  # steps a side
JUST_MM = 1e-6  # to either side of a station where the boss's outside steps
_MOST_STEPS_DOWN = 40  # a mesh with more vertex stations is a scan: no true steps in it


@dataclass(frozen=True, eq=False)
class Grid:
    """Rays at stations (ns,) [mm] and clocks (nt,) [rad], both ascending; all else (ns, nt).

    first, cast: radius where the ray first and last leaves the metal [mm]; cut: least radius within the grown sweep,
    the cast one where there is none [mm]; level: least distance to the grown sweep along the ray, negative where the
    ray is cut [mm].
    """

    stations: Array
    clocks: Array
    first: Array
    cast: Array
    cut: Array
    level: Array

    @property
    def depth(self) -> Array:
        """(ns, nt) [mm], 0 where untouched."""
        removed: Array = self.cast - self.cut
        return removed


def shoot(boss: PlacedBoss, sweep: GrownSweep, stations: Array, clocks: Array) -> Grid:
    """The rays at stations (ns,) [mm] and clocks (nt,) [rad]."""
    bore = boss.mesh.bore
    first, cast = radii(boss.mesh, stations, clocks)
    s, t = (a.ravel() for a in np.meshgrid(stations, clocks, indexing="ij"))
    high = cast.ravel()
    low = np.where((s <= bore.depth_mm) | (high <= bore.diameter_mm / 2), bore.diameter_mm / 2, 0.0)
    cut, level = cut_radii(sweep, boss.seat, stations=s, clocks=t, low=low, high=high)
    level = np.where(high > low, level, np.abs(level) + JUST_MM)
    return Grid(stations, clocks, first, cast, cut.reshape(cast.shape), level.reshape(cast.shape))


def patch_grid(boss: PlacedBoss, sweep: GrownSweep, points: Array) -> Grid:
    """The grid that covers the cut whose patch holds the points (n, 3) [mm] (axle frame), one step to spare all round.

    The cut may run on inside the metal past its patch on the surface, so the grid grows until its rim is untouched.
    """
    s, _, t = polar(boss.seat.to_boss(points))
    middle = np.arctan2(np.sin(t).mean(), np.cos(t).mean())
    t = middle + (t - middle + np.pi) % (2 * np.pi) - np.pi
    low, high = np.array([s.min(), t.min()]) - JUST_MM, np.array([s.max(), t.max()]) + JUST_MM
    start, stop = ends(boss.mesh)
    out = float(np.hypot(*boss.mesh.vertices[:, 1:].T).max())
    while True:
        stations, clocks = _stations(boss.mesh, low[0], high[0]), _clocks(low[1], high[1], out)
        grid = shoot(boss, sweep, stations, clocks)
        cut, whole = grid.level < 0, np.ptp(clocks) > 2 * np.pi - JUST_MM
        open_low = np.array([cut[0].any() and stations[0] > start + JUST_MM, cut[:, 0].any() and not whole])
        open_high = np.array([cut[-1].any() and stations[-1] < stop - JUST_MM, cut[:, -1].any() and not whole])
        if not (open_low | open_high).any():
            return grid
        more = np.maximum((high - low) / 4, [_STEP_MM, _STEP_MM / out])
        low, high = low - more * open_low, high + more * open_high


def ends(mesh: BossMesh) -> tuple[float, float]:
    """Least and greatest station of the mesh, the latter just inside."""
    x = mesh.vertices[:, 0]
    return float(-x.max()), float(-x.min()) - JUST_MM


def _stations(mesh: BossMesh, low: float, high: float) -> Array:
    """Even steps over the patch, one to spare at each end, and both sides of each station where vertices lie."""
    start, stop = ends(mesh)
    count = int(np.clip(np.ceil((high - low) / _STEP_MM), _FEWEST, _MOST))
    step = (high - low) / count
    low, high = max(low - step, start), min(high + step, stop)
    even = np.linspace(low, high, count + 3)
    own = -mesh.vertices[:, 0]
    steps = np.unique(np.round(own[(own > low) & (own < high)], 7))
    if len(steps) > _MOST_STEPS_DOWN:
        return even
    return np.unique(np.concatenate([even, steps - JUST_MM, steps + JUST_MM]))


def _clocks(low: float, high: float, out_mm: float) -> Array:
    """Even steps over the patch, one to spare at each end, at most a whole turn."""
    count = int(np.clip(np.ceil((high - low) * out_mm / _STEP_MM), _FEWEST, _MOST))
    step = (high - low) / count
    low, high = low - step, high + step
    middle, half = (low + high) / 2, min((high - low) / 2, np.pi)
    return np.linspace(middle - half, middle + half, count + 3)


def wrapped(clock: float) -> float:
    """A clock angle in (-pi, pi] [rad].

    >>> wrapped(np.pi + 0.5) == 0.5 - np.pi, wrapped(-np.pi) == np.pi
    (True, True)
    """
    return float(np.pi - (np.pi - clock) % (2 * np.pi))
