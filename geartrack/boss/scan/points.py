"""Points drawn evenly from a triangle surface, and small patches of it with their normals.

A scan's own triangles are too small for their normals to mean anything beside its noise; patches a few millimetres wide
have steady ones. Neither cares which way round a triangle is wound.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from geartrack.boss.mesh import Triangles
from geartrack.frame import Array

Index = NDArray[np.intp]

_BLOCK = 2**17  # triangles at a time
_SOME = 4000
CLOSE_MM = 2.2
"""Where a scan's usual side is shorter, its vertices stand close enough to serve as its points."""
_ROUNDS, _FEWEST = 3, 6
MOST_PATCHES = 40_000


@dataclass(frozen=True, eq=False)
class Patches:
    """Small flat pieces of a surface: centres (k, 3) [mm], unit normals (k, 3) of no given side, weight (k,) [-]."""

    centres: Array
    normals: Array
    weight: Array

    def only(self, chosen: NDArray[np.bool_] | Index) -> Patches:
        """Some of them, chosen by mask or index [-]."""
        return Patches(self.centres[chosen], self.normals[chosen], self.weight[chosen])


def usual_side_mm(vertices: Array, triangles: Triangles, rng: np.random.Generator) -> float:
    """A side that three in four triangles have one longer than: not what stray vertices (n, 3) [mm] make of it."""
    some = triangles[rng.integers(len(triangles), size=_SOME)]
    corners = vertices[some]
    longest = np.linalg.norm(corners - np.roll(corners, 1, axis=1), axis=2).max(axis=1)
    return float(np.quantile(longest, 0.25))


def areas(vertices: Array, triangles: Triangles) -> Array:
    """Area of each triangle, (m,) [mm2]; vertices (n, 3) [mm]."""
    area = np.empty(len(triangles))
    for start in range(0, len(triangles), _BLOCK):
        block = slice(start, start + _BLOCK)
        a, b, c = (vertices.take(triangles[block, i], axis=0) for i in range(3))
        area[block] = np.linalg.norm(np.cross(b - a, c - a), axis=1) / 2
    return area


def drawn(vertices: Array, triangles: Triangles, share: Array, count: int, rng: np.random.Generator) -> Array:
    """Points (about count, 3) [mm] drawn from triangles of vertices (n, 3) [mm], by each one's share (m,) [-]."""
    total = float(share.sum(dtype=float))
    if not total > 0:
        return np.zeros((0, 3))
    # systematic sampling: one random start, even steps, so that no place is left bare by chance
    steps = np.cumsum(share, dtype=float) * (count / total) + rng.random()
    many = np.diff(np.floor(steps), prepend=0.0).astype(np.intp)
    owner = np.repeat(np.arange(len(triangles)), many)
    u, v = rng.random((2, len(owner), 1))
    over = u + v > 1
    u, v = np.where(over, 1 - u, u), np.where(over, 1 - v, v)
    a, b, c = (vertices.take(triangles[owner, i], axis=0) for i in range(3))
    points: Array = a + u * (b - a) + v * (c - a)
    return points


def occupied(points: Array, size_mm: float) -> int:
    """How many cubes of this size have any of the points (n, 3) [mm]."""
    return len(np.unique(_cubes(points, size_mm)))


def patches(points: Array, size_mm: float) -> Patches:
    """Flat pieces of the surface that points (n, 3) [mm] lie on, one for each cube of this size that has enough."""
    _, owner = np.unique(_cubes(points, size_mm), return_inverse=True)
    count = np.bincount(owner)
    enough = np.flatnonzero(count >= _FEWEST)[:MOST_PATCHES]
    if not len(enough):
        return Patches(np.zeros((0, 3)), np.zeros((0, 3)), np.zeros(0))
    number = np.full(len(count), -1)
    number[enough] = np.arange(len(enough))
    points, owner = points[number[owner] >= 0], number[owner][number[owner] >= 0]
    weight = np.ones(len(points))
    centre, normal = np.zeros((len(enough), 3)), np.zeros((len(enough), 3))
    for _ in range(_ROUNDS):
        total = np.maximum(_sums(owner, weight, len(enough)), 1e-12)
        centre = np.stack([_sums(owner, weight * points[:, i], len(enough)) for i in range(3)], axis=1) / total[:, None]
        away = points - centre[owner]
        spread = np.empty((len(enough), 3, 3))
        for i, j in ((0, 0), (0, 1), (0, 2), (1, 1), (1, 2), (2, 2)):
            spread[:, i, j] = spread[:, j, i] = _sums(owner, weight * away[:, i] * away[:, j], len(enough)) / total
        values, vectors = np.linalg.eigh(spread)
        normal = vectors[:, :, 0]
        off = np.einsum("ij,ij->i", away, normal[owner])
        scale = 2.5 * np.sqrt(np.maximum(values[:, 0], 1e-12))[owner]
        weight = np.maximum(1 - (off / scale) ** 2, 0.0) ** 2
    flat = (values[:, 0] < 0.04 * values[:, 1]) & (values[:, 1] > (0.1 * size_mm) ** 2)
    return Patches(centre, normal, np.minimum(count[enough], 4.0 * np.median(count[enough]))).only(flat)


def _cubes(points: Array, size_mm: float) -> NDArray[np.int64]:
    """The number of the cube of this size that each point lies in, (n,)."""
    cell = np.floor((points - points.min(axis=0)) / size_mm).astype(np.int64)
    shape = cell.max(axis=0) + 1
    number: NDArray[np.int64] = (cell[:, 0] * shape[1] + cell[:, 1]) * shape[2] + cell[:, 2]
    return number


def _sums(owner: Index, values: Array, count: int) -> Array:
    sums: Array = np.bincount(owner, weights=values, minlength=count).astype(float)
    return sums
