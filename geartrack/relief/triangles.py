"""Triangles by the array: which to look at, halving, normals, and the distance of points to them."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from geartrack.boss.mesh import Triangles
from geartrack.frame import Array

Index = NDArray[np.intp]

_PAIRS = 200_000  # point-triangle pairs at a time


def touching(triangles: Triangles, *masks: NDArray[np.bool_]) -> Triangles:
    """The triangles (m, 3) that have a corner in each of the vertex masks (n,), at most eight of them."""
    bits = np.zeros(len(masks[0]), np.uint8)
    for bit, mask in enumerate(masks):
        bits |= mask.astype(np.uint8) << np.uint8(bit)
    met = bits[triangles[:, 0]] | bits[triangles[:, 1]] | bits[triangles[:, 2]]
    chosen: Triangles = triangles[met == (1 << len(masks)) - 1]
    return chosen


def counted(low: Index, high: Index) -> tuple[Index, Index]:
    """For each i the integers from low[i] up to, not including, high[i]: the i's and the integers, flat."""
    count = np.maximum(high - low, 0)
    owner = np.repeat(np.arange(len(count)), count)
    return owner, np.arange(len(owner)) - (np.cumsum(count) - count - low)[owner]


def halved(pieces: Array) -> Array:
    """Triangles (m, 3, 3) cut in two across their longest sides, (2 m, 3, 3)."""
    sides = ((np.roll(pieces, -1, axis=1) - pieces) ** 2).sum(axis=2)
    turn = (sides.argmax(axis=1)[:, None] + np.arange(3)) % 3
    a, b, c = np.moveaxis(np.take_along_axis(pieces, turn[..., None], axis=1), 1, 0)
    middle = (a + b) / 2
    return np.concatenate([np.stack([a, middle, c], axis=1), np.stack([middle, b, c], axis=1)])


def normals(pieces: Array) -> Array:
    """Outward normals (m, 3) of triangles (m, 3, 3), each as long as the triangle's area [mm2]."""
    turned: Array = np.cross(pieces[:, 1] - pieces[:, 0], pieces[:, 2] - pieces[:, 0]) / 2
    return turned


def distance_to(points: Array, pieces: Array) -> Array:
    """Distance of points (k, 3) to the nearest of the triangles (m, 3, 3), (k,) [mm]; infinite where there are none.

    The nearest point of a triangle is the foot on its plane where that lies inside, else a point of a side.
    """
    if len(pieces) == 0:
        return np.full(len(points), np.inf)
    block = max(1, _PAIRS // len(pieces))
    return np.concatenate(
        [_nearest(points[i : i + block], pieces) for i in range(0, len(points), block)] or [points[:, 0]]
    )


def _nearest(points: Array, pieces: Array) -> Array:
    normal = normals(pieces)
    length = np.linalg.norm(normal, axis=1)
    flat = length > 0
    normal = normal / np.where(flat, length, 1.0)[:, None]
    above = points @ normal.T - (pieces[:, 0] * normal).sum(axis=1)
    inside = np.broadcast_to(flat, above.shape).copy()
    squared = np.full(above.shape, np.inf)
    for i in range(3):
        start, side = pieces[:, i], pieces[:, (i + 1) % 3] - pieces[:, i]
        inward = np.cross(normal, side)
        inside &= points @ inward.T >= (start * inward).sum(axis=1)
        along = points @ side.T - (start * side).sum(axis=1)
        along = np.clip(along / np.maximum((side**2).sum(axis=1), np.finfo(float).tiny), 0.0, 1.0)
        away = points[:, None] - start - along[..., None] * side
        np.minimum(squared, (away**2).sum(axis=2), out=squared)
    best: Array = np.sqrt(np.where(inside, above**2, squared).min(axis=1))
    return best
