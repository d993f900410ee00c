"""Many sections at once, each with its own place of the boss: signed distances by row, edge by edge.

The same rules as geartrack.sweep, whose functions take one section: nearest edge for the distance, parity of the edges
a ray crosses for the sign, edges on r = 0 left out. Arrays may be single precision, for bounds that carry a slack.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from geartrack.frame import Array

Index = NDArray[np.intp]
_BLOCK = 16_384  # pairs at a time: the working arrays stay in the processor's cache


@dataclass(frozen=True, eq=False)
class Outlines:
    """n sections of k edges, row by row.

    edges: per edge the columns (n,) r and z of its start, z of its end, its sides in r and z, and 1 over its length
    squared, 0 for an edge of no length [mm]. shift: the boss's shifts in x and y (n,) [mm]. surface: edges that are not
    on the axis. near: edges that can be the nearest; crossed: edges a ray toward the axis can cross; all there are,
    until `geartrack.clearance.groups` knows better.
    """

    edges: tuple[tuple[Any, ...], ...]
    shift: tuple[Any, Any]
    surface: tuple[int, ...]
    near: tuple[int, ...]
    crossed: tuple[int, ...]

    @property
    def dtype(self) -> Any:
        """Single or double precision."""
        return self.shift[0].dtype

    def only(self, near: tuple[int, ...], crossed: tuple[int, ...]) -> Outlines:
        """The same with only these edges looked at."""
        return replace(self, near=near, crossed=crossed)

    def meridian(self, rows: Index, x: Any, y: Any) -> Any:
        """Distance of points (p,) from the ring axis [mm], each as far off as its row's boss."""
        x = x + self.shift[0].take(rows)
        y = y + self.shift[1].take(rows)
        x *= x
        y *= y
        x += y
        return np.sqrt(x, out=x)

    def at(self, points: tuple[Any, Any, Any], rows: Index, which: Index) -> Any:
        """Signed distances (p,) [mm] of points chosen by index, to the sections of these rows."""
        found = np.empty(len(rows), self.dtype)
        for start in range(0, len(rows), _BLOCK):
            block = slice(start, start + _BLOCK)
            row, at = rows[block], which[block]
            r = self.meridian(row, points[0].take(at), points[1].take(at))
            found[block] = self.signed(row, r, points[2].take(at))
        return found

    def signed(self, rows: Index, r: Any, z: Any) -> Any:
        """Signed distances of (r, z) (p,) [mm] to the sections of these rows, positive outside."""
        best = np.full(len(r), np.inf, self.dtype)
        inside = np.zeros(len(r), bool)
        for each in sorted({*self.near, *self.crossed}):
            ar, az, bz, er, ez, inverse = self.edges[each]
            er, ez = er.take(rows), ez.take(rows)
            wr, wz = r - ar.take(rows), z - az.take(rows)
            if each in self.crossed:
                crosses = (z >= az.take(rows)) != (z >= bz.take(rows))
                crosses &= (er * wz < ez * wr) == (ez > 0)
                inside ^= crosses
            if each in self.near:
                np.minimum(best, _away2(wr, wz, er, ez, inverse.take(rows)), out=best)
        np.sqrt(best, out=best)
        return np.negative(best, out=best, where=inside)

    def away(self, edge: int, rows: Index, r: Any, z: Any) -> Any:
        """Distances of (r, z) (p,) [mm] to one edge of the sections of these rows."""
        ar, az, _, er, ez, inverse = self.edges[edge]
        wr, wz = r - ar.take(rows), z - az.take(rows)
        return np.sqrt(_away2(wr, wz, er.take(rows), ez.take(rows), inverse.take(rows)))


def outlines(corners: Array, shift: Array, dtype: Any = np.float64) -> Outlines:
    """Sections of corners (n, k, 2) [mm], the boss of row i shifted by shift (n, 2) in x and y [mm].

    The same edges lie on the axis in every row (`on_axis`).
    """
    starts, ends = corners, np.roll(corners, -1, axis=1)
    sides = ends - starts
    length2 = (sides**2).sum(axis=-1)
    inverse = np.divide(1.0, length2, out=np.zeros_like(length2), where=length2 > np.finfo(np.float32).tiny)
    columns = (starts[..., 0], starts[..., 1], ends[..., 1], sides[..., 0], sides[..., 1], inverse)
    every = tuple(range(corners.shape[1]))
    edges = tuple(tuple(np.ascontiguousarray(column[:, i], dtype) for column in columns) for i in every)
    x, y = (np.ascontiguousarray(shift[:, i], dtype) for i in range(2))
    axis = on_axis(corners)
    surface = tuple(i for i in every if not axis[:, i].any())
    return Outlines(edges, (x, y), surface, surface, every)


def on_axis(corners: Array) -> NDArray[np.bool_]:
    """Which edges (n, k) of sections with corners (n, k, 2) [mm] lie on the axis: no metal's surface."""
    on: NDArray[np.bool_] = (corners[..., 0] <= 0) & (np.roll(corners[..., 0], -1, axis=1) <= 0)
    return on


def _away2(wr: Any, wz: Any, er: Any, ez: Any, inverse: Any) -> Any:
    """Squared distance to edges, w from their starts; works in place on w and e."""
    along = wr * er
    along += wz * ez
    along *= inverse
    np.maximum(along, 0, out=along)
    np.minimum(along, 1, out=along)
    er *= along
    ez *= along
    wr -= er
    wz -= ez
    wr *= wr
    wz *= wz
    wr += wz
    return wr
