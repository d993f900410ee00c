"""The largest value of a function over stations and clocks, and what it may be off by."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from geartrack.frame import Array

Axes = tuple[Array, Array]

_PLACES = 1200  # a grid
_ROUNDS = 6
_SAME_MM = 1e-9  # places closer than this are one
_POLISH, _POLISHED = 2, 9  # last grids about the best place, and places a side


@dataclass(frozen=True)
class Peak:
    """A largest value [mm], its row and column [any], its error: by how much the true largest may exceed it [mm]."""

    value: float
    row: float
    column: float
    error: float = np.inf


def peak(
    values_at: Callable[[Array, Array], Array],
    rows: Array,
    columns: Array,
    *,
    scale_mm: tuple[float, float],
    values: Array | None = None,
    fine_mm: float = 0.02,
) -> Peak:
    """The largest of values_at(rows, columns) -> (n, m) [mm] over the range of rows and columns.

    Between neighbours a value is taken to exceed theirs by no more than their distance, and by no more than the lesser
    of the changes of slope at the two of them makes over it: enough for a ridge however its sides slope, eight times
    enough where it is smooth, and what lies past a cliff does not spoil it. Grid after grid closes in on all places
    that could still hold the largest, until that is `fine_mm` or no longer falls.

    scale_mm: millimetres per unit of row and of column. values: at the first grid, where they are known already [mm].
    """
    axes = (rows, columns)
    values = values_at(*axes) if values is None else values
    best, ceiling = _largest(values, axes), np.inf
    for _ in range(_ROUNDS):
        spacing = _spacing(axes, scale_mm)
        at_most = values + sum(_rise(values, n, axes[n] * scale_mm[n]) for n in (0, 1))
        ceiling = float(at_most.max())
        if ceiling - best.value <= fine_mm:
            break
        finer = _closer(axes, at_most >= best.value, scale_mm)
        if _spacing(finer, scale_mm) > 0.7 * spacing:
            break
        axes, values = finer, values_at(*finer)
        best = max(best, _largest(values, axes), key=lambda found: found.value)
    reach = [float(np.diff(axis).max()) for axis in axes]
    for _ in range(_POLISH):
        axes = _around(rows, best.row, reach[0]), _around(columns, best.column, reach[1])
        best = max(best, _largest(values_at(*axes), axes), key=lambda found: found.value)
        reach = [2 * r / (_POLISHED - 1) for r in reach]
    return Peak(best.value, best.row, best.column, max(ceiling - best.value, 0.0))


def _largest(values: Array, axes: Axes) -> Peak:
    i, j = np.unravel_index(int(values.argmax()), values.shape)
    return Peak(float(values[i, j]), float(axes[0][i]), float(axes[1][j]))


def _spacing(axes: Axes, scale_mm: tuple[float, float]) -> float:
    """Distance between neighbours across a grid [mm]."""
    return float(np.hypot(*(np.diff(axis).max() * scale for axis, scale in zip(axes, scale_mm, strict=True))))


def _rise(values: Array, along: int, places_mm: Array) -> Array:
    """How far values between places may exceed theirs, going along one axis of the grid, (n, m)."""
    if len(places_mm) < 3:
        return np.full(values.shape, np.ptp(places_mm))
    values, step = np.moveaxis(values, along, -1), np.maximum(np.diff(places_mm), _SAME_MM)
    bend = np.abs(np.diff(np.diff(values) / step))
    bend = np.concatenate([bend[:, :1], bend, bend[:, -1:]], axis=1)
    rise = step * np.minimum(1.0, np.minimum(bend[:, :-1], bend[:, 1:]))
    rise = np.maximum(np.pad(rise, ((0, 0), (1, 0))), np.pad(rise, ((0, 0), (0, 1))))
    back: Array = np.moveaxis(rise, -1, along)
    return back


def _closer(axes: Axes, near: NDArray[np.bool_], scale_mm: tuple[float, float]) -> Axes:
    """An even grid over the places marked and one to each side of them."""
    found = np.nonzero(near)
    low = [axis[max(int(i.min()) - 1, 0)] for axis, i in zip(axes, found, strict=True)]
    high = [axis[min(int(i.max()) + 1, len(axis) - 1)] for axis, i in zip(axes, found, strict=True)]
    spans = [(b - a) * scale for a, b, scale in zip(low, high, scale_mm, strict=True)]
    step = max(np.sqrt(spans[0] * spans[1] / _PLACES), _SAME_MM)
    counts = [int(np.clip(span / step + 1, 4, _PLACES / 4)) for span in spans]
    return np.linspace(low[0], high[0], counts[0]), np.linspace(low[1], high[1], counts[1])


def _around(axis: Array, at: float, reach: float) -> Array:
    """Places to both sides of one, within the axis."""
    return np.linspace(max(at - reach, axis[0]), min(at + reach, axis[-1]), _POLISHED)
