"""A smooth surface through scattered readings of a boss's outside: a thin-plate spline that closes round the turn.

Distances are taken in (s/R, cos t, sin t), R the mean radius read, which is nearly the distance over the boss itself.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from geartrack.boss.readings import StationTable
from geartrack.frame import Array

_NONE = 1e-9  # of the largest: a direction in which the readings do not differ, a reading that carries the rest


@dataclass(frozen=True, eq=False)
class Surface:
    """Radius over the boss's outside: weights (n,) of the readings and a trend (up to 4 terms), lengths [mm].

    `middle` and `axes` place the trend's directions; scale_mm is R. two_sigma_mm: twice the root mean square of the
    leave-one-out errors [mm].
    """

    table: StationTable
    scale_mm: float
    middle: Array
    axes: Array
    weights: Array
    trend: Array
    two_sigma_mm: float

    def at(self, station: Array, clock: Array) -> Array:
        """Radius [mm] on a grid, (k, m): station (k,) [mm], held between the first and last read, clock (m,) [rad]."""
        read = self.table.station_mm
        radius = np.empty((len(station), len(clock)))
        for row, s in enumerate(np.clip(station, read.min(), read.max())):
            place = np.full(len(clock), s)
            kernel = _kernel(_squared(place, clock, self.table, self.scale_mm))
            directions = _trend(_in_space(place, clock, self.scale_mm), self.middle, self.axes)
            radius[row] = kernel @ self.weights + directions @ self.trend
        return radius


def fitted(table: StationTable) -> Surface:
    """The spline through all readings, and its leave-one-out errors.

    With A the whole system's matrix (kernel and trend), leaving reading i out misses it by (A^-1 y)_i / (A^-1)_ii
    (Rippa 1999, from memory, carried over to a trend). The trend has only the directions in which the readings differ,
    so one ring or one row of readings can be fitted too.
    """
    scale = float(table.radius_mm.mean())
    points = _in_space(table.station_mm, table.clock, scale)
    middle = points.mean(axis=0)
    _, sizes, axes = np.linalg.svd(points - middle, full_matrices=False)
    axes = axes[sizes > _NONE * sizes[0]]
    trend = _trend(points, middle, axes)
    count, terms = trend.shape
    kernel = _kernel(_squared(table.station_mm, table.clock, table, scale))
    inverse = np.linalg.inv(np.block([[kernel, trend], [trend.T, np.zeros((terms, terms))]]))
    solution = inverse[:, :count] @ table.radius_mm
    own = np.diag(inverse)[:count]
    told = np.abs(own) > _NONE * np.abs(own).max()
    errors = np.full(count, np.ptp(table.radius_mm))  # where the other readings alone would not carry a surface
    errors[told] = solution[:count][told] / own[told]
    two_sigma = 2 * float(np.sqrt(np.mean(errors**2)))
    return Surface(table, scale, middle, axes, solution[:count], solution[count:], two_sigma)


def _in_space(station: Array, clock: Array, scale_mm: float) -> Array:
    return np.stack([station / scale_mm, np.cos(clock), np.sin(clock)], axis=-1)


def _squared(station: Array, clock: Array, table: StationTable, scale_mm: float) -> Array:
    """Squared distances in that space from places (k,) to the readings, (k, n)."""
    along = (station[:, None] - table.station_mm) / scale_mm
    across = 2 * np.sin((clock[:, None] - table.clock) / 2)
    squared: Array = along**2 + across**2
    return squared


def _kernel(squared: Array) -> Array:
    """r^2 log r (Duchon's thin-plate spline, from memory), 0 at r = 0."""
    kernel: Array = 0.5 * squared * np.log(np.maximum(squared, np.finfo(float).tiny))
    return kernel


def _trend(points: Array, middle: Array, axes: Array) -> Array:
    return np.concatenate([np.ones((len(points), 1)), (points - middle) @ axes.T], axis=1)
