"""A smooth surface through scattered readings of a boss's outside: a thin-plate spline that closes round the turn.

Distances are taken in (s/R, cos t, sin t), R the mean radius read, which is nearly the distance over the boss itself.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from geartrack.boss.readings import StationTable
from geartrack.frame import Array

_NONE = 1e-9  # of the largest: a direction in which the readings do not differ
_FOLDS = 200  # a longer table is left out by groups, not one by one


@dataclass(frozen=True, eq=False)
class Surface:
    """Radius over the boss's outside.

    spline: scipy's interpolator, on places along `axes` from `middle`; scale_mm is R [mm]. two_sigma_mm: twice the
    root mean square of the leave-one-out errors [mm].
    """

    table: StationTable
    scale_mm: float
    middle: Array
    axes: Array
    spline: Any
    two_sigma_mm: float

    def at(self, station: Array, clock: Array) -> Array:
        """Radius [mm] on a grid, (k, m): station (k,) [mm], held between the first and last read, clock (m,) [rad]."""
        read = self.table.station_mm
        s, t = np.meshgrid(np.clip(station, read.min(), read.max()), clock, indexing="ij")
        places = (_in_space(s.ravel(), t.ravel(), self.scale_mm) - self.middle) @ self.axes.T
        radius: Array = self.spline(places).reshape(s.shape)
        return radius


def fitted(table: StationTable) -> Surface:
    """The spline through all readings, and its leave-one-out errors.

    Only the directions in which the readings differ count, so one ring or one row of readings can be fitted too.
    """
    scale = float(table.radius_mm.mean())
    points = _in_space(table.station_mm, table.clock, scale)
    middle = points.mean(axis=0)
    _, sizes, axes = np.linalg.svd(points - middle, full_matrices=False)
    axes = axes[sizes > _NONE * sizes[0]]
    places = (points - middle) @ axes.T
    errors = _left_out_errors(places, table.radius_mm)
    two_sigma = 2 * float(np.sqrt(np.mean(errors**2)))
    return Surface(table, scale, middle, axes, _through(places, table.radius_mm), two_sigma)


def _through(places: Array, radius: Array) -> Any:
    from scipy.interpolate import RBFInterpolator

    return RBFInterpolator(places, radius, kernel="thin_plate_spline", degree=1)


def _left_out_errors(places: Array, radius: Array) -> Array:
    """What the other readings miss each one by, (n,) [mm]; the whole range where they alone carry no surface."""
    errors = np.full(len(radius), np.ptp(radius))
    everyone = np.arange(len(radius))
    for fold in (everyone[start :: min(len(radius), _FOLDS)] for start in range(min(len(radius), _FOLDS))):
        kept: NDArray[np.bool_] = ~np.isin(everyone, fold)
        if _spans(places[kept]):
            errors[fold] = _through(places[kept], radius[kept])(places[fold]) - radius[fold]
    return errors


def _spans(places: Array) -> bool:
    """Whether places (n, d) differ in every direction, and are enough for a trend."""
    sizes = np.linalg.svd(places - places.mean(axis=0), compute_uv=False)
    return len(places) > places.shape[1] and bool(sizes[-1] > _NONE * sizes[0])


def _in_space(station: Array, clock: Array, scale_mm: float) -> Array:
    return np.stack([station / scale_mm, np.cos(clock), np.sin(clock)], axis=-1)
