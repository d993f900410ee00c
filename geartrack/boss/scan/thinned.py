"""A scan with fewer triangles, to be looked at and picked on: its corners stay points of the scan."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from geartrack.boss.mesh import Triangles
from geartrack.frame import Array

MOST = 60_000
"""Triangles that any browser turns about with ease, from memory."""
_COARSER = 1.3


def thinned(vertices: Array, triangles: Triangles, most: int = MOST) -> tuple[Array, Triangles]:
    """Vertices (n, 3) [mm] and triangles (m, 3) of a surface with no more than about `most` triangles.

    All corners in one cell of a grid become the first of them, after Rossignac and Borrel's vertex clustering (1993,
    from memory); so each corner left is one of the scan's own, and none has moved.
    """
    if len(triangles) <= most:
        return vertices, triangles
    a, b, c = (vertices[corner] for corner in triangles.T)
    area = float(np.linalg.norm(np.cross(b - a, c - a), axis=1).sum()) / 2
    cell = np.sqrt(2 * area / most)
    while True:
        first, which = _cells(vertices, cell)
        left = which[triangles].astype(np.int32)
        left = left[(left[:, 0] != left[:, 1]) & (left[:, 1] != left[:, 2]) & (left[:, 2] != left[:, 0])]
        if len(left) <= most:
            return vertices[first], left
        cell *= _COARSER


def _cells(vertices: Array, cell: float) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Of each cell that holds any vertex, the first in it; and of each vertex, which cell it is in."""
    at = np.floor((vertices - vertices.min(axis=0)) / cell).astype(np.int64)
    wide, deep = at[:, 1].max() + 1, at[:, 2].max() + 1
    _, first, which = np.unique((at[:, 0] * wide + at[:, 1]) * deep + at[:, 2], return_index=True, return_inverse=True)
    return first, which
