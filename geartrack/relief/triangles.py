"""Triangles by the array: which to look at, halving, normals, and the distance of points to them."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from geartrack.boss.mesh import Triangles
from geartrack.frame import Array

Index = NDArray[np.intp]


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
    """Triangles, pieces (m, 3, 3) [mm], cut in two across their longest sides, (2 m, 3, 3) [mm]."""
    sides = ((np.roll(pieces, -1, axis=1) - pieces) ** 2).sum(axis=2)
    turn = (sides.argmax(axis=1)[:, None] + np.arange(3)) % 3
    a, b, c = np.moveaxis(np.take_along_axis(pieces, turn[..., None], axis=1), 1, 0)
    middle = (a + b) / 2
    return np.concatenate([np.stack([a, middle, c], axis=1), np.stack([middle, b, c], axis=1)])


def normals(pieces: Array) -> Array:
    """Outward normals (m, 3) of triangles, pieces (m, 3, 3) [mm], each as long as the triangle's area [mm2]."""
    turned: Array = np.cross(pieces[:, 1] - pieces[:, 0], pieces[:, 2] - pieces[:, 0]) / 2
    return turned


def distance_to(points: Array, pieces: Array, within: Array) -> Array:
    """Distance of points (k, 3) [mm] to the nearest of triangles, pieces (m, 3, 3) [mm], (k,) [mm].

    Past `within` (k,) [mm] it may be infinite.
    The nearest point of a triangle is the foot on its plane where that lies inside, else a point of a side.
    """
    centres = pieces.mean(axis=1)
    radius = np.linalg.norm(pieces - centres[:, None], axis=2).max(axis=1)
    squared = np.zeros((len(points), len(pieces)))
    for axis in range(3):
        squared += (points[:, None, axis] - centres[:, axis]) ** 2
    i, j = np.nonzero(squared <= (within[:, None] + radius) ** 2)
    nearest = np.full(len(points), np.inf)
    np.minimum.at(nearest, i, _apart(points[i], pieces[j]))
    return nearest


def _apart(points: Array, pieces: Array) -> Array:
    """Distance of each point (n, 3) to its own triangle (n, 3, 3), (n,) [mm]."""
    normal = normals(pieces)
    length = np.linalg.norm(normal, axis=1)
    inside, squared = length > 0, np.full(len(points), np.inf)
    for corner in range(3):
        side, away = pieces[:, (corner + 1) % 3] - pieces[:, corner], points - pieces[:, corner]
        inside &= (np.cross(normal, side) * away).sum(axis=1) >= 0
        along = (away * side).sum(axis=1) / np.maximum((side**2).sum(axis=1), np.finfo(float).tiny)
        off = away - np.clip(along, 0.0, 1.0)[:, None] * side
        np.minimum(squared, (off**2).sum(axis=1), out=squared)
    above = np.abs(((points - pieces[:, 0]) * normal).sum(axis=1)) / np.where(length > 0, length, 1.0)
    apart: Array = np.where(inside, above, np.sqrt(squared))
    return apart
