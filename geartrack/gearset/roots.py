"""Roots of many like equations at once: where the sign changes, and a library's root finder between.

Many go to scipy's vectorised finder. One goes to numpy's Chebyshev polynomials, which say the same to 1e-12 and spare a
single check the third of a second that importing scipy.optimize takes.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
from numpy.typing import NDArray

from geartrack.errors import Finding, OutOfRangeError
from geartrack.tolerances import TOLERANCES

Array = NDArray[np.float64]
_DEGREE = 20  # of a polynomial through a curve without a bend to speak of: right to rounding (tests)
_REAL = 1e-7  # of the bracket: an imaginary part no larger is rounding


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


def _one_root(f: Callable[..., Any], low: float, high: float, args: tuple[Any, ...]) -> Array:
    """The root (1,) nearest to the bracket's middle, of the polynomial through f at the Chebyshev points."""
    fit = np.polynomial.Chebyshev.interpolate(lambda x: f(x, *args), _DEGREE, domain=[low, high])
    roots = fit.roots()
    inside = roots.real[(np.abs(roots.imag) <= _REAL * (high - low)) & (roots.real >= low) & (roots.real <= high)]
    if not len(inside):
        raise OutOfRangeError(Finding("", "no solution was found", "other inputs"))
    middle = (low + high) / 2
    return np.array([min(inside, key=lambda root: abs(root - middle))])


def bracketed_root(
    f: Callable[..., Any],
    low: Array,
    high: Array,
    args: tuple[Any, ...] = (),
    *,
    relative: float = TOLERANCES.root_relative,
) -> Array:
    """Roots (n,) of f(x, *args) between low (n,) and high (n,), where it changes sign.

    low, high: ends of the brackets [any]. f works element by element; args: arrays (n,) that go with x; relative: width
    of the last bracket, as a part of the root [-]. Raises OutOfRangeError where the finder does not get there.

    >>> bracketed_root(lambda x, c: x**2 - c, np.zeros(2), np.array([2.0, 5.0]), (np.array([2.0, 9.0]),))
    array([1.41421356, 3.        ])
    """
    if len(low) == 1:
        return _one_root(f, float(low[0]), float(high[0]), args)
    found, success = bracketed_roots(f, low, high, args, relative=relative)
    if not success.all():
        raise OutOfRangeError(Finding("", "no solution was found", "other inputs"))
    return found


def bracketed_roots(
    f: Callable[..., Any],
    low: Array,
    high: Array,
    args: tuple[Any, ...] = (),
    *,
    relative: float = TOLERANCES.root_relative,
) -> tuple[Array, NDArray[np.bool_]]:
    """Roots (n,) between low and high (n,) [any] as `bracketed_root` has them, and which of them the finder got to."""
    from scipy.optimize.elementwise import find_root

    found = find_root(
        f, (low, high), args=args, tolerances={"xatol": 0.0, "xrtol": relative, "fatol": 0.0, "frtol": 0.0}
    )
    return np.asarray(found.x, float), np.asarray(found.success, bool)
