"""The outside that planes about a grid's nodes make: edges kept sharp, strays cut off, holes closed or drawn large."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from geartrack.boss.scan.field import TURN, Grid, beside
from geartrack.frame import Array

_EDGE, _FURTHER, _WITHIN, _STEP_UP_MM = 1.6, 1.2, 2.0, 0.4
_AROUND, _BOUNDING = 2, 5  # nodes to each side that bound one, and how many of them it takes
_BEYOND = 4  # nodes past the rim of what is seen
_HOLE_NODES = 6  # of a hole no wider than this each way to its rim what is laid across it counts as seen
_ABOUT_MM, _ABOUT = 5.0, math.radians(30)  # a wider one is drawn at the largest radius seen so near
_APART, _FRONT_MM = 4, 4.0

Mask = NDArray[np.bool_]


@dataclass(frozen=True, eq=False)
class Outside:
    """radius_mm (ns, nt) at station_mm (ns,) and clock (nt,) [rad]; seen (ns, nt): whether the scan shows it.

    rms_mm: of the scan's surface about it, and of its nodes about each other [mm].
    """

    station_mm: Array
    clock: Array
    radius_mm: Array
    seen: Mask
    rms_mm: float


def edges_kept(plane: Array, rms: Array, usual_mm: float, grid: Grid) -> tuple[Array, Array]:
    """Each node's radius [mm] and slope along the bore: by its own plane, or a near node's that fits far better.

    usual_mm: the rms of a plane where there is no edge [mm].
    """
    value, fit = plane[:, 0].reshape(grid.shape), rms.reshape(grid.shape)
    slopes = plane[:, 1:].reshape(*grid.shape, 2)
    best, along, least = value.copy(), slopes[..., 0].copy(), np.where(fit < _EDGE * usual_mm, -1.0, fit / _EDGE)
    for i, j in ((1, 0), (-1, 0), (0, 1), (0, -1), (2, 0), (-2, 0), (0, 2), (0, -2)):
        other, theirs, slope = (np.roll(each, (-i, -j), axis=(0, 1)) for each in (value, fit, slopes))
        carried = other - i * grid.step[0] * slope[..., 0] - j * grid.step[1] * slope[..., 1]
        theirs = theirs * (1 if abs(i + j) == 1 else _FURTHER)
        outer = np.zeros(grid.shape, bool)
        if i:
            outer[slice(-i, None) if i > 0 else slice(-i)] = True
        with np.errstate(invalid="ignore"):
            near = np.abs(carried - value) < _WITHIN * fit  # by what the node's own plane may be out there
        better = (theirs < least) & ~outer & near
        best, along = np.where(better, carried, best), np.where(better, slope[..., 0], along)
        least = np.where(better, theirs, least)
    return best, along


def not_below(value: Array, first: Array) -> Array:
    """No node's value [mm] under all first surfaces [mm] about it: beside a steep wall a plane dips past its points."""
    about = np.fmin(_span(first, _AROUND)[0], first)
    dipped: Array = np.fmax(value, np.where(np.isfinite(value), about, np.nan))
    return dipped


def within_neighbours(value: Array, good: Mask, seen: Mask) -> Array:
    """No node's value [mm] beyond what the well-fitted nodes about it span: a lone peak or pit is strays, no step is.

    A node just beyond the rim of what is seen stands as far out as anything seen beside it.
    """
    low, high, count = _span(np.where(good & seen, value, np.nan), _AROUND)
    value = np.where(count >= _BOUNDING, np.clip(value, low, high), value)
    return np.where(seen, value, _span(np.where(seen, value, np.nan), _BEYOND)[1])


def _span(value: Array, around: int) -> tuple[Array, Array, Array]:
    """Least and greatest value of the nodes about each, itself left out, and of how many."""
    rows = np.pad(value, ((around, around), (0, 0)), constant_values=np.nan)
    low = high = np.full(value.shape, np.nan)
    count = np.zeros(value.shape)
    for i in range(2 * around + 1):
        for j in range(-around, around + 1):
            if (i, j) != (around, 0):
                other = np.roll(rows[i : i + len(value)], j, axis=1)
                low, high, count = np.fmin(low, other), np.fmax(high, other), count + np.isfinite(other)
    return low, high, count


def outward(value: Array) -> Array:
    """The value (rows, columns) [mm], a step's higher side carried on by one node: never too little stands out."""
    higher = beside(value, np.fmax)
    with np.errstate(invalid="ignore"):
        carried: Array = np.where(higher - value > _STEP_UP_MM, higher, value)
    return carried


def holes_closed(value: Array, seen: Mask, along_mm: float) -> tuple[Array, Mask]:
    """Small holes closed from their rim and counted as seen; the rest drawn at the largest radius seen about them.

    value (rows, columns) [mm]: NaN in holes. along_mm: from station to station [mm].
    """
    shown = seen.copy()
    for _ in range(_HOLE_NODES):
        rim = beside(np.where(shown, value, np.nan), np.fmax)
        new = ~shown & np.isfinite(rim)
        value = np.where(new & np.isnan(value), rim, value)
        shown |= new
    # what was reached from one side only is no hole but the rim of something wider
    wide = np.pad(~shown, ((1, 1), (0, 0)), constant_values=True)
    for _ in range(_HOLE_NODES):
        wide = wide | np.roll(wide, 1, axis=1) | np.roll(wide, -1, axis=1) | _rows_beside(wide)
    shown &= ~wide[1:-1] | seen
    return np.where(np.isfinite(value), value, _largest_about(np.where(seen, value, 0.0), along_mm)), shown


def _largest_about(value: Array, along_mm: float) -> Array:
    """The largest radius seen near each node, by _ABOUT_MM along and _ABOUT round; else at its station, else at all."""
    rows, columns = math.ceil(_ABOUT_MM / along_mm), math.ceil(_ABOUT / (TURN / value.shape[1]))
    near = np.pad(value, ((rows, rows), (0, 0)))
    near = np.maximum.reduce([near[i : i + len(value)] for i in range(2 * rows + 1)])
    near = np.maximum.reduce([np.roll(near, j, axis=1) for j in range(-columns, columns + 1)])
    station = value.max(axis=1)
    wider = np.where(station > 0, station, value.max())
    about: Array = np.where(near > 0, near, wider[:, None])
    return about


def _rows_beside(mask: Mask) -> Mask:
    beside: Mask = np.zeros_like(mask)
    beside[1:] |= mask[:-1]
    beside[:-1] |= mask[1:]
    return beside


def rough_mm(value: Array) -> float:
    """How far nodes stray from their neighbourhood, one sigma, from the nearer two thirds of them [mm].

    value (rows, columns) [mm].
    Against the mean of four nodes _APART off: of a smooth surface that is its noise, times sqrt(5/4).
    """
    if len(value) <= 2 * _APART:
        return 0.0
    middle = value[_APART:-_APART]
    beside = (
        value[2 * _APART :] + value[: -2 * _APART] + np.roll(middle, _APART, axis=1) + np.roll(middle, -_APART, axis=1)
    )
    found = np.quantile(np.abs(middle - beside / 4), 0.683) / math.sqrt(1.25)
    return float(found)


def front_refined(shown: Outside, slope: Array) -> Outside:
    """With a station between each two near the end face: an edge there is the likeliest to be met.

    slope (rows, columns) [-]: along the bore. Where the planes to both sides bend away from each other the edge lies
    where they meet, outside the chord.
    """
    step = float(shown.station_mm[1])
    rows = min(math.ceil(_FRONT_MM / step), len(shown.station_mm) - 1)
    low, high = shown.radius_mm[:rows], shown.radius_mm[1 : rows + 1]
    from_low, from_high = low + slope[:rows] * step / 2, high - slope[1 : rows + 1] * step / 2
    chord = (low + high) / 2
    met = np.fmin(np.fmin(from_low, from_high), np.maximum(low, high) + step / 2)
    middle = np.where((slope[:rows] > slope[1 : rows + 1]) & np.isfinite(met), np.fmax(chord, met), chord)
    at = np.arange(1, rows + 1)
    seen = shown.seen[:rows] & shown.seen[1 : rows + 1]
    return Outside(
        np.insert(shown.station_mm, at, shown.station_mm[:rows] + step / 2),
        shown.clock,
        np.insert(shown.radius_mm, at, middle, axis=0),
        np.insert(shown.seen, at, seen, axis=0),
        shown.rms_mm,
    )
