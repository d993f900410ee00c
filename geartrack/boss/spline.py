"""A smooth surface through scattered readings of a boss's outside: a thin-plate spline that closes round the turn.

Distances are taken in (s/R, cos t, sin t), R the mean radius read, which is nearly the distance over the boss itself.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from geartrack.boss.readings import StationTable
from geartrack.frame import Array

_BLOCK = 1 << 20  # kernel values at a time


@dataclass(frozen=True, eq=False)
class Surface:
    """A thin-plate spline in space; `at` gives its radius [mm] on a grid of stations [mm] and clock angles [rad]."""

    table: StationTable
    scale_mm: float
    points: Array
    middle: Array
    axes: Array
    weights: Array
    trend: Array
    two_sigma_mm: float

    def at(self, station: Array, clock: Array) -> Array:
        inside = np.clip(station, self.table.station_mm.min(), self.table.station_mm.max())
        grid = np.broadcast_arrays(inside[:, None], clock[None, :])
        places = _in_space(grid[0].ravel(), grid[1].ravel(), self.scale_mm)
        out = np.empty(len(places))
        step = max(1, _BLOCK // len(self.points))
        for start in range(0, len(places), step):
            block = places[start : start + step]
            out[start : start + step] = (
                _kernel(block, self.points) @ self.weights + _trend(block, self.middle, self.axes) @ self.trend
            )
        return out.reshape(len(station), len(clock))


def _in_space(station: Array, clock: Array, scale_mm: float) -> Array:
    return np.stack([station / scale_mm, np.cos(clock), np.sin(clock)], axis=-1)


def _kernel(a: Array, b: Array) -> Array:
    """r^2 log r between two sets of points (Duchon's thin-plate spline; from memory), 0 at r = 0."""
    squared = ((a[:, None, :] - b[None, :, :]) ** 2).sum(axis=-1)
    kernel: Array = 0.5 * squared * np.log(np.maximum(squared, np.finfo(float).tiny))
    return kernel


def _trend(points: Array, middle: Array, axes: Array) -> Array:
    return np.concatenate([np.ones((len(points), 1)), (points - middle) @ axes.T], axis=1)


def fitted(table: StationTable) -> Surface:
    """The spline through all readings, and its leave-one-out errors.

    With A the whole system's matrix (kernel and trend), leaving reading i out misses it by (A^-1 y)_i / (A^-1)_ii
    (closed form of Rippa 1999, extended to a trend; checked against refitting in the tests). The trend has only the
    directions in which the readings differ, so one ring or one row of readings can be fitted too.
    """
    scale = float(table.radius_mm.mean())
    points = _in_space(table.station_mm, table.clock, scale)
    middle = points.mean(axis=0)
    _, sizes, axes = np.linalg.svd(points - middle, full_matrices=False)
    axes = axes[sizes > 1e-9 * sizes[0]]
    trend = _trend(points, middle, axes)
    count, terms = trend.shape
    system = np.block([[_kernel(points, points), trend], [trend.T, np.zeros((terms, terms))]])
    inverse = np.linalg.inv(system)
    solution = inverse[:, :count] @ table.radius_mm
    own = np.diag(inverse)[:count]
    told = np.abs(own) > 1e-9 * np.abs(own).max()
    errors = np.full(count, np.ptp(table.radius_mm))  # where the other readings alone would not carry a surface
    errors[told] = solution[:count][told] / own[told]
    two_sigma = 2 * float(np.sqrt(np.mean(errors**2)))
    return Surface(table, scale, points, middle, axes, solution[:count], solution[count:], two_sigma)
