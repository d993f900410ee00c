"""Low to high of a result from weighted draws, how far its ends may be off, and the chance that something holds."""

from __future__ import annotations

from dataclasses import dataclass
from math import hypot

import numpy as np
from numpy.typing import NDArray

from geartrack.frame import Array
from geartrack.spread.draws import SETS, SIGMAS

LOW, MIDDLE, HIGH = 0.025, 0.5, 0.975
ENDS = np.array([LOW, MIDDLE, HIGH])


@dataclass(frozen=True)
class Percentiles:
    """The 2.5, 50 and 97.5 % points of a result and their standard errors, from independent sets of draws.

    low, middle, high [any]; low_error, middle_error, high_error [any].
    """

    low: float
    middle: float
    high: float
    low_error: float
    middle_error: float
    high_error: float

    @property
    def low_end(self) -> float:
        """The low end, its own error counted [any]: two independent errors at 2-sigma, by root sum of squares (JCGM
        100:2008, 5.1.2)."""
        return self.middle - hypot(self.middle - self.low, SIGMAS * self.low_error)

    @property
    def high_end(self) -> float:
        """The high end, its own error counted in the same way [any]."""
        return self.middle + hypot(self.high - self.middle, SIGMAS * self.high_error)


def percentiles(values: Array, weights: Array, low: float = LOW) -> Percentiles:
    """Percentiles of values (n,) [any] with weights (n,) [-], and their standard errors; low: level of `low` [-]."""
    ends = np.array([low, MIDDLE, HIGH])
    whole = quantiles(values, weights, ends)
    parts = np.array([quantiles(v, w, ends) for v, w in zip(_sets(values), _sets(weights), strict=True) if w.sum()])
    error = parts.std(axis=0, ddof=1) / np.sqrt(len(parts)) if len(parts) > 1 else np.full(3, np.inf)
    at = (float(v) for v in whole)
    return Percentiles(*at, *(float(e) for e in error))


def quantiles(values: Array, weights: Array, levels: Array) -> Array:
    """Values (k,) [any] under which levels (k,) [-] of the weights (n,) [-] lie, between draws interpolated."""
    order = np.argsort(values)
    weight = weights[order]
    places = (np.cumsum(weight) - weight / 2) / weight.sum()
    found: Array = np.interp(levels, places, values[order])
    return found


def chance(holds: NDArray[np.bool_], weights: Array) -> float:
    """Share [-] of the weights (n,) [-] of the draws for which something holds (n,), true or false [-]."""
    return float(weights[holds].sum() / weights.sum())


def slopes_of(columns: Array, values: Array, weights: Array) -> Array:
    """Least squares of values (n,) [any] on columns (n, k) [any], weights (n,) [-]; least norm where columns repeat.

    By normal equations: few columns of like size against thousands of rows, where an SVD of all rows takes 50 times as
    long.
    """
    weighted = columns * weights[:, None]
    slopes: Array = np.linalg.pinv(weighted.T @ columns, rcond=1e-10, hermitian=True) @ (weighted.T @ values)
    return slopes


def effective(weights: Array) -> float:
    """How many equally weighted draws weights (n,) [-] are worth (Kish): (sum w)^2 / sum w^2 [-]."""
    return float(weights.sum() ** 2 / (weights**2).sum())


def _sets(values: Array) -> Array:
    return values.reshape(SETS, -1)
