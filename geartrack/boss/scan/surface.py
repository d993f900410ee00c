"""The boss's outside as a scan shows it: how far out it is at every station and clock angle about the bore.

What lies first outside the bore's wall counts, whichever way its triangles are wound. Each node's value comes from a
plane fitted to the scan about it (moments of the points in cells, robust by Tukey's weights, from memory); where a
neighbour's plane fits its points far better the node is at an edge and takes that, so that edges stay sharp. Beside a step the
higher side is carried on by one node: an edge may stand out too far, never too little.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from geartrack.boss.mesh import Triangles
from geartrack.boss.scan.points import Index, drawn, usual_side_mm
from geartrack.errors import InputError, refuse
from geartrack.frame import Array, polar

STEP_MM = (0.25, 0.35)
"""Between nodes: along the bore, and round the outside (about)."""

SKIN_MM = 1.0  # nothing so near the bore's own wall is the outside
_COARSE_MM, _PER_CELL, _COARSE_CUTS_MM = (1.0, 3.0), 10.0, (1.0, 0.6, 0.4)
_LAYER_MM, _LAYER_SHARE, _LAYER_FEWEST = 1.0, 0.25, 3
CLOSE_MM = 1.6
_TRUE_MM, _POINTS = 0.3, 260_000
_WINDOWS, _FEWEST = (1, 2, 4), 8.0
_CUTS_MM = (0.4, 0.25, 0.15)  # from a node's plane, round by round, beyond which a point does not count
_SIGMAS = 5.0
_EDGE, _STEP_UP_MM = 1.6, 0.4
_GOOD, _AROUND = 2.5, 2  # a good fit's rms over the usual; nodes about one that bound it
_HOLE_NODES = 4  # of a hole no wider than this each way to its rim, the nearest node's radius is taken
_TURN = 2 * math.pi

Mask = NDArray[np.bool_]


@dataclass(frozen=True, eq=False)
class Outside:
    """radius_mm (ns, nt) at station_mm (ns,) and clock (nt,) [rad]; seen (ns, nt): whether the scan shows it.

    rms_mm: of the scan's surface about it [mm].
    """

    station_mm: Array
    clock: Array
    radius_mm: Array
    seen: Mask
    rms_mm: float


@dataclass(frozen=True, eq=False)
class _Grid:
    """Nodes every `step` from `low`, `shape` of them, along the bore [mm] and round it [mm on the mean radius]."""

    step: tuple[float, float]
    shape: tuple[int, int]

    def nodes(self, places: Array) -> tuple[Index, Array]:
        """The node nearest to each place (n, 2) by number (n,), and how far past it the place lies (n, 2) [mm]."""
        at = places / np.array(self.step)
        near = np.rint(at).astype(np.intp)
        off = (at - near) * np.array(self.step)
        rows = np.clip(near[:, 0], 0, self.shape[0] - 1)
        return rows * self.shape[1] + near[:, 1] % self.shape[1], off


def outside(
    vertices: Array,
    triangles: Triangles,
    *,
    bore_radius_mm: float,
    length_mm: float,
    out_mm: float,
    face_mm: float = 0.02,
) -> Outside:
    """The outside of a boss from a scan's vertices (n, 3) in the boss frame [mm] and its triangles.

    length_mm: from the pinion-side end face in; out_mm: nothing further out than this is the boss; face_mm: nearer than
    this to the end face's plane a point may be the face's own.
    Raises InputError where nothing of it is seen.
    """
    station, radius, clock = polar(vertices)
    shell = (radius > bore_radius_mm + SKIN_MM) & (radius < out_mm)
    shell &= (station > -_COARSE_MM[0]) & (station < length_mm + _COARSE_MM[0])
    triangles = triangles[shell[triangles].any(axis=1)]
    if not len(triangles):
        raise _unseen()
    mean = float(np.median(radius[shell]))
    places = np.stack([station, np.remainder(clock, _TURN) * mean], axis=1)
    fine = usual_side_mm(vertices, triangles, np.random.default_rng(0)) < CLOSE_MM
    true = _on_outside(places, radius, shell & (station > face_mm), length_mm, mean) if fine else np.ones(len(vertices), bool)
    points, out = _drawn(vertices, triangles, true, places, mean)
    on = (out > bore_radius_mm + SKIN_MM) & (out < out_mm) & (points[:, 0] > face_mm) & (points[:, 0] < length_mm)
    return _resolved(points[on], out[on], length_mm, mean, median=fine)


def _unseen() -> InputError:
    return refuse("scan", "shows nothing of the boss's outside", "a scan of the boss from outside too")


def _on_outside(places: Array, radius: Array, shell: Mask, length_mm: float, mean_mm: float) -> Mask:
    """Which of a scan's vertices lie on the first surface out from the bore, (n,): neither strays nor what is beyond."""
    area = length_mm * _TURN * mean_mm
    step = float(np.clip(np.sqrt(_PER_CELL * area / max(int(shell.sum()), 1)), *_COARSE_MM))
    coarse = _grid(step, step, length_mm, mean_mm)
    first = _filled(_layer(places[shell], radius[shell], coarse), coarse)
    plane = _fitted(places[shell], radius[shell], coarse, first, _COARSE_CUTS_MM)[0]
    true = np.zeros(len(radius), bool)
    true[shell] = _near_planes(places[shell], radius[shell], coarse, plane)
    return true


def _grid(along_mm: float, around_mm: float, length_mm: float, mean_mm: float) -> _Grid:
    rows = max(math.ceil(length_mm / along_mm), 2)
    columns = max(4 * math.ceil(_TURN * mean_mm / around_mm / 4), 16)
    return _Grid((length_mm / rows, _TURN * mean_mm / columns), (rows + 1, columns))


def _layer(places: Array, radius: Array, grid: _Grid) -> Array:
    """The first surface out from the bore at each node, (nodes,) [mm]; NaN where there is none.

    First is the least radius from which on _LAYER_MM holds _LAYER_SHARE of the points about a node: fewer are strays.
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


def _middle(places: Array, radius: Array, grid: _Grid) -> Array:
    """The median radius at each node, (nodes,) [mm]; NaN where there is none."""
    number, _ = grid.nodes(places)
    order = np.lexsort((radius, number))
    count = np.bincount(number, minlength=math.prod(grid.shape))
    middle = np.full(len(count), np.nan)
    some = count > 0
    middle[some] = radius[order[(np.cumsum(count) - count + count // 2)[some]]]
    return middle


def _fitted(
    places: Array, radius: Array, grid: _Grid, start: Array, cuts: tuple[float, ...]
) -> tuple[Array, Array, Array]:
    """Planes through the points about each node: (nodes, 3) value [mm] and slopes, rms (nodes,) [mm], weight (nodes,).

    start: (nodes,) values to begin from [mm]; NaN where there is none.
    """
    number, off = grid.nodes(places)
    plane = np.stack([start, np.zeros_like(start), np.zeros_like(start)], axis=1)
    rms, total = np.full(len(start), np.inf), np.zeros(len(start))
    for cut in cuts:
        level = plane[number]
        residual = radius - level[:, 0] - level[:, 1] * off[:, 0] - level[:, 2] * off[:, 1]
        weight = np.where(np.isfinite(residual), np.maximum(1 - (residual / cut) ** 2, 0.0) ** 2, 0.0)
        moments = _moments(number, off, radius, weight, grid)
        plane, rms, total = _planes(moments, grid)
    return plane, rms, total


def _moments(number: Index, off: Array, radius: Array, weight: Array, grid: _Grid) -> Array:
    """(10, rows, columns): sums of w, wx, wy, wr, wxx, wxy, wyy, wxr, wyr, wrr about each node."""
    used = weight > 0
    number, w = number[used], weight[used]
    x, y, r = off[used, 0], off[used, 1], radius[used]
    size = math.prod(grid.shape)
    terms = (w, w * x, w * y, w * r, w * x * x, w * x * y, w * y * y, w * x * r, w * y * r, w * r * r)
    return np.stack([np.bincount(number, weights=each, minlength=size) for each in terms]).reshape(10, *grid.shape)


def _planes(moments: Array, grid: _Grid) -> tuple[Array, Array, Array]:
    """Planes by least squares over the smallest window about each node that holds enough."""
    size = math.prod(grid.shape)
    plane, rms, total = np.full((size, 3), np.nan), np.full(size, np.inf), np.zeros(size)
    for window in _WINDOWS:
        open_ = total < _FEWEST
        if not open_.any():
            break
        sums = _window(moments, grid, window).reshape(10, -1)[:, open_]
        good = sums[0] >= _FEWEST
        which = np.flatnonzero(open_)[good]
        plane[which], rms[which] = _solved(sums[:, good], grid)
        total[which] = sums[0][good]
    return plane, rms, total


def _window(moments: Array, grid: _Grid, window: int) -> Array:
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


def _solved(sums: Array, grid: _Grid) -> tuple[Array, Array]:
    """Value and slopes (k, 3) of each plane and its rms (k,) [mm]; a slope that nothing settles is kept near 0."""
    w, x, y, r, xx, xy, yy, xr, yr, rr = sums
    ridge = 1e-3 * w * min(grid.step) ** 2
    matrix = np.stack([np.stack([w, x, y]), np.stack([x, xx + ridge, xy]), np.stack([y, xy, yy + ridge])])
    right = np.stack([r, xr, yr])
    plane = np.linalg.solve(np.moveaxis(matrix, -1, 0), right.T[..., None])[..., 0]
    left = rr - np.einsum("ki,ik->k", plane, right)
    return plane, np.sqrt(np.maximum(left, 0.0) / w)


def _near_planes(places: Array, radius: Array, grid: _Grid, plane: Array) -> Mask:
    """Which points lie near the plane of their own node or of one beside it, (n,)."""
    number, off = grid.nodes(places)
    row, column = np.divmod(number, grid.shape[1])
    near: Mask = np.zeros(len(radius), bool)
    for i in (-1, 0, 1):
        for j in (-1, 0, 1):
            rows = row + i
            inside = (rows >= 0) & (rows < grid.shape[0])
            level = plane[np.where(inside, rows, 0) * grid.shape[1] + (column + j) % grid.shape[1]]
            x, y = off[:, 0] - i * grid.step[0], off[:, 1] - j * grid.step[1]
            steep = np.sqrt(1 + level[:, 1] ** 2 + level[:, 2] ** 2)
            with np.errstate(invalid="ignore"):
                apart = np.abs(radius - level[:, 0] - level[:, 1] * x - level[:, 2] * y) / steep
                near |= inside & (apart < _TRUE_MM)
    return near


def _drawn(
    vertices: Array, triangles: Triangles, true: Mask, places: Array, mean_mm: float
) -> tuple[Array, Array]:
    """Places (n, 2) [mm] and radii (n,) [mm] drawn evenly over the outside from triangles all of whose corners are on it."""
    triangles = triangles[true[triangles].all(axis=1)]
    if not len(triangles):
        raise _unseen()
    corners = places[triangles]
    turn = _TURN * mean_mm
    u, v = corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]
    for side in (u, v):
        side[:, 1] -= turn * np.rint(side[:, 1] / turn)
    seen = np.abs(u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0])
    points = drawn(vertices, triangles, seen, _POINTS, np.random.default_rng(len(triangles)))
    station, out, clock = polar(points)
    return np.stack([station, np.remainder(clock, _TURN) * mean_mm], axis=1), out


def _resolved(places: Array, radius: Array, length_mm: float, mean_mm: float, *, median: bool) -> Outside:
    """The outside on its grid; `median`: the points are the outside's own, else its first layer is looked for."""
    grid = _grid(*STEP_MM, length_mm, mean_mm)
    first = (_middle if median else _layer)(places, radius, grid)
    first = _filled(first, grid)
    plane, rms, weight = _fitted(places, radius, grid, first, _CUTS_MM)
    usual = float(np.median(rms[np.isfinite(rms)])) if np.isfinite(rms).any() else math.inf
    if not math.isfinite(usual):
        raise _unseen()
    value = _edge_kept(plane, rms, usual, grid)
    seen = weight.reshape(grid.shape) >= _FEWEST
    value = _outward(_between(np.where(seen, value, np.nan), rms.reshape(grid.shape) < _GOOD * usual))
    station = np.arange(grid.shape[0]) * grid.step[0]
    clock = np.arange(grid.shape[1]) * (_TURN / grid.shape[1])
    closed, shown = _holes(value, seen)
    return Outside(station, clock, closed, shown, usual)


def _filled(first: Array, grid: _Grid) -> Array:
    """Nodes without a value of their own start from one beside them."""
    value = first.reshape(grid.shape)
    for _ in range(max(_WINDOWS)):
        gap = np.isnan(value)
        if not gap.any():
            break
        value = np.where(gap, _beside(value, np.fmax), value)
    return value.ravel()


def _beside(value: Array, pick: np.ufunc) -> Array:
    """For each node what `pick` makes of the four beside it; NaN where none has a value."""
    rows = np.pad(value, ((1, 1), (0, 0)), constant_values=np.nan)
    found: Array = pick(pick(rows[:-2], rows[2:]), pick(np.roll(value, 1, axis=1), np.roll(value, -1, axis=1)))
    return found


def _edge_kept(plane: Array, rms: Array, usual_mm: float, grid: _Grid) -> Array:
    """Each node's radius (rows, columns): by its own plane, or by that of a node beside it which fits far better."""
    value, fit = plane[:, 0].reshape(grid.shape), rms.reshape(grid.shape)
    slopes = plane[:, 1:].reshape(*grid.shape, 2)
    best, least = value.copy(), np.where(fit < _EDGE * usual_mm, -1.0, fit / _EDGE)
    for i, j in ((1, 0), (-1, 0), (0, 1), (0, -1)):
        other, theirs, slope = (np.roll(each, (-i, -j), axis=(0, 1)) for each in (value, fit, slopes))
        carried = other - i * grid.step[0] * slope[..., 0] - j * grid.step[1] * slope[..., 1]
        outer = np.zeros(grid.shape, bool)
        if i:
            outer[-1 if i > 0 else 0] = True
        better = (theirs < least) & ~outer & np.isfinite(carried)
        best, least = np.where(better, carried, best), np.where(better, theirs, least)
    return best


def _between(value: Array, good: Mask) -> Array:
    """No node beyond what the well-fitted nodes about it span: a lone peak or pit is strays, a step is not alone."""
    rows = np.pad(np.where(good, value, np.nan), ((_AROUND, _AROUND), (0, 0)), constant_values=np.nan)
    low = high = np.full(value.shape, np.nan)
    count = np.zeros(value.shape)
    for i in range(2 * _AROUND + 1):
        for j in range(-_AROUND, _AROUND + 1):
            if (i, j) != (_AROUND, 0):
                other = np.roll(rows[i : i + len(value)], j, axis=1)
                low, high, count = np.fmin(low, other), np.fmax(high, other), count + np.isfinite(other)
    return np.where(count >= _FEWEST, np.clip(value, low, high), value)


def _outward(value: Array) -> Array:
    """Beside a step the higher side carried on by one node."""
    higher = _beside(value, np.fmax)
    with np.errstate(invalid="ignore"):
        return np.where(higher - value > _STEP_UP_MM, higher, value)


def _holes(value: Array, seen: Mask) -> tuple[Array, Mask]:
    """Small holes closed from their rim and counted as seen; the rest at the largest radius seen at their station."""
    shown = seen.copy()
    for _ in range(_HOLE_NODES):
        rim = np.where(shown, np.nan, _beside(np.where(shown, value, np.nan), np.fmax))
        new = ~shown & np.isfinite(rim)
        value = np.where(new, rim, value)
        shown |= new
    # what was reached from one side only is no hole but the rim of something wider
    wide = ~shown
    for _ in range(_HOLE_NODES):
        wide = wide | np.roll(wide, 1, axis=1) | np.roll(wide, -1, axis=1) | _rows_beside(wide)
    shown &= ~wide | seen
    largest = np.nanmax(np.where(seen, value, np.nan))
    rows = np.nan_to_num(np.where(seen, value, 0.0).max(axis=1), nan=0.0)
    rows = np.where(seen.mean(axis=1) > 0.2, rows, largest)
    return np.where(shown, value, rows[:, None]), shown


def _rows_beside(mask: Mask) -> Mask:
    beside: Mask = np.zeros_like(mask)
    beside[1:] |= mask[:-1]
    beside[:-1] |= mask[1:]
    return beside
