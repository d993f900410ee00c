"""Roots of many like equations at once, by bracketing.

Why not scipy: importing scipy.optimize costs a third of the second that a whole `geartrack check` may take, and its
scalar finders do not work on arrays; the tests hold this one against scipy's brentq.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
from numpy.typing import NDArray

from geartrack.errors import OutOfRangeError, refuse

Array = NDArray[np.float64]


def nearest_brackets(grid: Array, values: Array, near: Array) -> tuple[Array, Array, NDArray[np.int64]]:
    """For each row, the two neighbouring grid points that enclose the sign change nearest to `near`.

    grid: (n, k) places [any]; values: (n, k) function values, NaN where there is none [any]; near: (n,) [any].
    Returns low (n,), high (n,) and the number of sign changes (n,); where that is 0, low and high mean nothing.
    """
    change = np.signbit(values[:, :-1]) != np.signbit(values[:, 1:])
    change &= np.isfinite(values[:, :-1]) & np.isfinite(values[:, 1:])
    away = np.where(change, np.abs((grid[:, :-1] + grid[:, 1:]) / 2 - near[:, None]), np.inf)
    best, rows = away.argmin(axis=1), np.arange(len(grid))
    return grid[rows, best], grid[rows, best + 1], change.sum(axis=1)


def bracketed_root(f: Callable[[Array], Any], low: Array, high: Array, relative: float) -> Array:
    """Roots (n,) of f between low (n,) and high (n,), where it changes sign; Illinois false position.

    low, high: (n,) ends of the brackets [any]. f: takes and gives (n,), row i depending on element i only. relative:
    stop once no step is larger than this part of the root [-]. Raises OutOfRangeError if that takes more than 100
    steps.

    >>> bracketed_root(lambda x: x**2 - np.array([2.0, 9.0]), np.array([0.0, 0.0]), np.array([2.0, 5.0]), 1e-12)
    array([1.41421356, 3.        ])
    """
    a, b = low, high
    fa, fb = f(a), f(b)
    for _ in range(100):
        step = np.where(fb == 0, 0.0, fb * (b - a) / np.where(fb == fa, 1.0, fb - fa))
        c = b - step
        fc = f(c)
        crossed = fb * fc <= 0
        a, fa = np.where(crossed, b, a), np.where(crossed, fb, fa / 2)
        b, fb = c, fc
        if (np.abs(step) <= relative * np.abs(b)).all():
            return b
    raise OutOfRangeError(*refuse("", "no solution found in 100 steps").findings)
