"""Planes through scanned points about the nodes of a grid over a boss's outside, by sums of the points in its cells.

Sums over wider windows come from those over cells, so that no point has to find its neighbours.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from geartrack.boss.scan.points import Index
from geartrack.frame import Array

TURN = 2 * math.pi
WINDOWS, FEWEST = (1, 2, 4), 8.0  # nodes to each side, the narrowest that holds so much weight
_LAYER_MM, _LAYER_SHARE, _LAYER_FEWEST = 1.0, 0.25, 3


@dataclass(frozen=True, eq=False)
class Grid:
    """Nodes every `step` from `low`, `shape` of them, along the bore [mm] and round it [mm on the mean radius]."""

    step: tuple[float, float]
    shape: tuple[int, int]

    def nodes(self, places: Array) -> tuple[Index, Array]:
        """The node nearest to each of places (n, 2) [mm], by number (n,), and how far past it that lies (n, 2) [mm]."""
        at = places / np.array(self.step)
        near = np.rint(at).astype(np.intp)
        off = (at - near) * np.array(self.step)
        rows = np.clip(near[:, 0], 0, self.shape[0] - 1)
        return rows * self.shape[1] + near[:, 1] % self.shape[1], off


def grid_of(along_mm: float, around_mm: float, length_mm: float, mean_mm: float) -> Grid:
    """Nodes about so far apart along a length and round a radius of mean_mm, the last station on the length's end."""
    rows = max(math.ceil(length_mm / along_mm), 2)
    columns = max(4 * math.ceil(TURN * mean_mm / around_mm / 4), 16)
    return Grid((length_mm / rows, TURN * mean_mm / columns), (rows + 1, columns))


def first_layer(places: Array, radius: Array, grid: Grid) -> Array:
    """The first surface out from the bore at each node, (nodes,) [mm]; NaN where there is none.

    places (n, 2) [mm], radius (n,) [mm]: of the points. First is the least radius from which on _LAYER_MM holds
    _LAYER_SHARE of the points about a node: fewer are strays.
    """
    number, _ = grid.nodes(places)
    order = np.lexsort((radius, number))
    number, radius = number[order], radius[order]
    count = np.bincount(number, minlength=math.prod(grid.shape))
    key = number * 1e4 + radius
    reach = np.searchsorted(key, key + _LAYER_MM) - np.arange(len(key))
    enough = np.flatnonzero(reach >= np.maximum(_LAYER_SHARE * count[number], _LAYER_FEWEST))
    nodes, at = np.unique(number[enough], return_index=True)
    found = enough[at]
    first = np.full(len(count), np.nan)
    first[nodes] = radius[found + reach[found] // 2]
    return first


def middle(places: Array, radius: Array, grid: Grid) -> Array:
    """The median radius at each node, (nodes,) [mm]; NaN where there is none.

    places (n, 2) [mm], radius (n,) [mm]: of the points.
    """
    number, _ = grid.nodes(places)
    order = np.lexsort((radius, number))
    count = np.bincount(number, minlength=math.prod(grid.shape))
    middle = np.full(len(count), np.nan)
    some = count > 0
    middle[some] = radius[order[(np.cumsum(count) - count + count // 2)[some]]]
    return middle


def filled(first: Array, grid: Grid) -> Array:
    """The first values (nodes,) [mm], NaN ones taken from a node beside them, as far as WINDOWS reach."""
    value = first.reshape(grid.shape)
    for _ in range(max(WINDOWS)):
        gap = np.isnan(value)
        if not gap.any():
            break
        value = np.where(gap, beside(value, np.fmax), value)
    return value.ravel()


def beside(value: Array, pick: np.ufunc) -> Array:
    """For each node what `pick` makes of the four beside it, value (rows, columns) [mm]; NaN where none has one."""
    rows = np.pad(value, ((1, 1), (0, 0)), constant_values=np.nan)
    found: Array = pick(pick(rows[:-2], rows[2:]), pick(np.roll(value, 1, axis=1), np.roll(value, -1, axis=1)))
    return found


def fitted_planes(
    places: Array,
    radius: Array,
    grid: Grid,
    start: Array,
    cuts: tuple[float, ...],
) -> tuple[Array, Array, Array]:
    """Planes through the points about each node: value [mm] and slopes (nodes, 3), rms [mm], window used (nodes,).

    places (n, 2) [mm], radius (n,) [mm]: of the points. start (nodes,) [mm]: to begin from, NaN where there is none.
    cuts [mm]: how far from its plane a point still counts, round by round.
    """
    number, off = grid.nodes(places)
    plane = np.stack([start, np.zeros_like(start), np.zeros_like(start)], axis=1)
    rms = used = np.full(len(start), np.inf)
    for cut in cuts:
        level = plane[number]
        residual = radius - level[:, 0] - level[:, 1] * off[:, 0] - level[:, 2] * off[:, 1]
        weight = np.where(np.isfinite(residual), np.maximum(1 - (residual / cut) ** 2, 0.0) ** 2, 0.0)
        moments = _moments(number, off, radius, weight, grid)
        plane, rms, used = _planes(moments, grid)
    return plane, rms, used


def _moments(number: Index, off: Array, radius: Array, weight: Array, grid: Grid) -> Array:
    """(10, rows, columns): sums of w, wx, wy, wr, wxx, wxy, wyy, wxr, wyr, wrr about each node."""
    used = weight > 0
    number, w = number[used], weight[used]
    x, y, r = off[used, 0], off[used, 1], radius[used]
    size = math.prod(grid.shape)
    terms = (w, w * x, w * y, w * r, w * x * x, w * x * y, w * y * y, w * x * r, w * y * r, w * r * r)
    sums: Array = np.stack([np.bincount(number, weights=each, minlength=size) for each in terms]).astype(float)
    return sums.reshape(10, *grid.shape)


def _planes(moments: Array, grid: Grid) -> tuple[Array, Array, Array]:
    """Planes by least squares over the smallest window about each node that holds enough."""
    size = math.prod(grid.shape)
    plane, rms, used = np.full((size, 3), np.nan), np.full(size, np.inf), np.full(size, np.inf)
    for window in WINDOWS:
        open_ = np.isinf(used)
        if not open_.any():
            break
        sums = _window(moments, grid, window).reshape(10, -1)[:, open_]
        good = sums[0] >= FEWEST
        which = np.flatnonzero(open_)[good]
        plane[which], rms[which] = _solved(sums[:, good], grid)
        used[which] = window
    return plane, rms, used


def _window(moments: Array, grid: Grid, window: int) -> Array:
    """Moments of all cells within `window` of each node, taken about that node; the clock closes round the turn."""
    along = np.zeros_like(moments)
    for step in range(-window, window + 1):
        shifted = np.zeros_like(moments)
        source = slice(max(step, 0), moments.shape[1] + min(step, 0))
        target = slice(max(-step, 0), moments.shape[1] + min(-step, 0))
        shifted[:, target] = _about(moments[:, source], step * grid.step[0], 0)
        along += shifted
    around = np.zeros_like(moments)
    for step in range(-window, window + 1):
        around += _about(np.roll(along, -step, axis=2), step * grid.step[1], 1)
    return around


def _about(moments: Array, by: float, axis: int) -> Array:
    """Moments about a place `by` further back along one axis."""
    w, x, y, r, xx, xy, yy, xr, yr, rr = moments
    if axis == 0:
        return np.stack([w, x + by * w, y, r, xx + 2 * by * x + by * by * w, xy + by * y, yy, xr + by * r, yr, rr])
    return np.stack([w, x, y + by * w, r, xx, xy + by * x, yy + 2 * by * y + by * by * w, xr, yr + by * r, rr])


def _solved(sums: Array, grid: Grid) -> tuple[Array, Array]:
    """Value and slopes (k, 3) of each plane and its rms (k,) [mm]; a slope that nothing settles is kept near 0."""
    w, x, y, r, xx, xy, yy, xr, yr, rr = sums
    ridge = 1e-3 * w * min(grid.step) ** 2
    matrix = np.stack([np.stack([w, x, y]), np.stack([x, xx + ridge, xy]), np.stack([y, xy, yy + ridge])])
    right = np.stack([r, xr, yr])
    plane = np.linalg.solve(np.moveaxis(matrix, -1, 0), right.T[..., None])[..., 0]
    left = rr - np.einsum("ki,ik->k", plane, right)
    return plane, np.sqrt(np.maximum(left, 0.0) / w)
