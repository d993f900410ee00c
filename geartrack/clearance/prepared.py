"""A triangle surface made ready for many queries: sorted into small clusters, each within a known ball."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from geartrack.boss.mesh import Triangles
from geartrack.errors import refuse
from geartrack.frame import Array
from geartrack.tolerances import TOLERANCES

_MOST_CELLS = 2**16  # a cell's number fits 16 bits, which numpy sorts in linear time
_PER_CLUSTER = 16  # triangles aimed at in a cell of a small mesh
_BLOCK = 2**15  # triangles at a time


@dataclass(frozen=True, eq=False)
class Prepared:
    """A surface sorted by the cell its triangles' centroids lie in.

    vertices : (n, 3) float [mm], as given; triangles : (m, 3) int32, sorted by cluster
    reach : (m,) a ball of this radius about its centroid holds the triangle [mm]
    starts : (c + 1,) cluster i holds triangles starts[i] to starts[i + 1]
    centres : (c, 3) [mm], radii : (c,) [mm], of balls that hold the clusters' triangles
    """

    vertices: Array
    triangles: Triangles
    reach: Array
    starts: NDArray[np.intp]
    centres: Array
    radii: Array

    def corners(self, chosen: NDArray[np.intp]) -> Array:
        """Corners (k, 3, 3) [mm] of the triangles chosen by index (k,) [-]."""
        return self.vertices[self.triangles[chosen]]

    def members(self, clusters: NDArray[np.intp]) -> NDArray[np.intp]:
        """The triangles, by index, of clusters chosen by index (k,) [-]."""
        first, count = self.starts[clusters], np.diff(self.starts)[clusters]
        return np.repeat(first - np.cumsum(count) + count, count) + np.arange(count.sum())


def prepare(vertices: Array, triangles: Triangles) -> Prepared:
    """Sort a triangle surface for `gap`. Raises InputError if it is empty, has a bad index or a point not finite.

    vertices : (n, 3) float [mm], axle frame; triangles : (m, 3) int. Winding and closedness do not matter.
    """
    vertices = np.ascontiguousarray(vertices, float)
    triangles = np.ascontiguousarray(triangles, np.int32)
    if not len(triangles) or not np.isfinite(vertices).all():
        raise refuse("boss", "its surface is empty or has a point that is not a finite number")
    if triangles.min() < 0 or triangles.max() >= len(vertices):
        raise refuse("boss", "a triangle points at a vertex that does not exist")
    low, high = _box(vertices)
    cell, shape = _cells(high - low, len(triangles))
    number, reach = _number_and_reach(vertices, triangles, low, cell, shape)
    order = np.argsort(number, kind="stable")
    number, reach = number[order], reach[order]
    starts = np.flatnonzero(np.concatenate([[True], number[1:] != number[:-1]]))
    centres = low + (np.stack(np.unravel_index(number[starts], shape), axis=1) + 0.5) * cell
    radii = np.maximum.reduceat(reach, starts) + np.sqrt(3) / 2 * cell + TOLERANCES.mesh_mm
    return Prepared(vertices, triangles[order], reach, np.append(starts, len(order)), centres, radii)


def _box(vertices: Array) -> tuple[Array, Array]:
    """Least and greatest coordinates, column by column: many times faster than along the long axis at once."""
    columns = [np.ascontiguousarray(vertices[:, i]) for i in range(3)]
    return np.array([c.min() for c in columns]), np.array([c.max() for c in columns])


def _cells(span: Array, count: int) -> tuple[float, tuple[int, ...]]:
    """Edge of a cubic cell [mm] and how many cells a side, for about _PER_CLUSTER triangles in a cell that has any."""
    wanted = min(_MOST_CELLS, (count / (6 * _PER_CLUSTER)) ** 1.5)  # a cube's surface crosses 6 n^2 of n^3 cells
    cell, finer = float(span.max()) or 1.0, 1.1
    while np.prod(span // (cell / finer) + 1) <= wanted:
        cell /= finer
    return cell, tuple(int(n) for n in span // cell + 1)


def _number_and_reach(
    vertices: Array, triangles: Triangles, low: Array, cell: float, shape: tuple[int, ...]
) -> tuple[NDArray[np.uint16], Array]:
    """The cell number of each triangle's centroid, and the centroid's distance to the furthest corner [mm]."""
    number, reach = np.zeros(len(triangles), np.uint16), np.zeros(len(triangles))
    for start in range(0, len(triangles), _BLOCK):
        block = slice(start, start + _BLOCK)
        corners = [vertices.take(triangles[block, i], axis=0) for i in range(3)]
        centroid = (corners[0] + corners[1] + corners[2]) / 3
        i, j, k = np.minimum(((centroid - low) / cell).astype(np.uint16), np.array(shape, np.uint16) - 1).T
        number[block] = (i * shape[1] + j) * shape[2] + k
        away2 = np.zeros(len(centroid))
        for corner in corners:
            corner -= centroid
            np.maximum(away2, np.einsum("ij,ij->i", corner, corner), out=away2)
        reach[block] = np.sqrt(away2) + TOLERANCES.mesh_mm
    return number, reach
