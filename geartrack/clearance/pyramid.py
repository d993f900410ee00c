"""A surface as balls within balls: what a search over many placements goes down, (row, ball) pair by pair."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from geartrack.clearance.outlines import Index
from geartrack.frame import Array

_FAN = 4  # balls in the next larger one; 8 took twice as many distances
_TOP = 16  # no more balls than this at the top, for each size
_SIZES = 2.0  # balls of one kind differ by less than 2 to this power: a large one would spoil its neighbours' pruning


class Pairs(NamedTuple):
    """(row, ball) pairs in rising order of rows: both (p,), with the signed distance at the ball's centre (p,) [mm]."""

    row: Index
    ball: Index
    f: Any

    def where(self, keep: NDArray[np.bool_]) -> Pairs:
        """Those of the pairs for which keep (p,) is true [-]."""
        return Pairs(self.row[keep], self.ball[keep], self.f[keep])


@dataclass(frozen=True, eq=False)
class Level:
    """Balls: centres (x, y, z), each (m,) [mm], and radii (m,) [mm].

    first: (m + 1,) ball i holds the balls first[i] to first[i + 1] of the next level; away: (next m,) the furthest of
    such a ball's points from the centre of the ball that holds it [mm]. Both None at the bottom.
    """

    centres: tuple[Any, Any, Any]
    radii: Any
    first: Index | None = None
    away: Any = None

    def children(self, pairs: Pairs, best: Any) -> tuple[Index, Index]:
        """Rows and balls of the next level that may hold a distance under the rows' best (n,) [mm]."""
        assert self.first is not None
        count = np.diff(self.first).take(pairs.ball)
        rows, balls = expanded(self.first.take(pairs.ball), count, pairs.row)
        keep = np.repeat(pairs.f - best.take(pairs.row), count) < self.away.take(balls)
        return rows[keep], balls[keep]


@dataclass(frozen=True, eq=False)
class Pyramid:
    """Levels from the largest balls to the smallest; order: (m,) the items as they lie at the bottom."""

    levels: tuple[Level, ...]
    order: Index


def pyramid(centres: Array, radii: Array) -> Pyramid:
    """Balls round balls (centres (m, 3) [mm], radii (m,) [mm]); a larger ball's centre is one of its balls' centres."""
    size = np.floor(np.log2(radii / radii.min()) / _SIZES).astype(np.int64)
    order = np.argsort((size << 32) | _along_a_curve(centres), kind="stable")
    centres, radii, size = centres[order], radii[order], size[order]
    levels = [level_of(centres, radii)]
    while len(radii) > _TOP * len(np.unique(size)):
        starts = _every(size)
        inside = np.append(starts, len(radii))
        size = size[starts]
        centres, larger, away = _round(centres, radii, inside)
        radii = larger
        levels.append(level_of(centres, radii, inside, away))
    return Pyramid(tuple(reversed(levels)), order)


def expanded(first: Index, count: Index, rows: Index) -> tuple[Index, Index]:
    """Rows (sum of count,) and numbers running from first for count, pair by pair."""
    ends = np.cumsum(count)
    numbers = np.repeat(first - ends + count, count)
    numbers += np.arange(len(numbers))
    return np.repeat(rows, count), numbers


def firsts(rows: Index) -> Index:
    """Where each run of equal rows starts."""
    return np.flatnonzero(np.concatenate([np.ones(min(1, len(rows)), bool), rows[1:] != rows[:-1]]))


def level_of(centres: Array, radii: Array, first: Index | None = None, away: Array | None = None) -> Level:
    """A level of balls of centres [mm], radii [mm] and away [mm], in single precision; see Level."""
    x, y, z = (np.ascontiguousarray(centres[:, i], np.float32) for i in range(3))
    return Level((x, y, z), radii.astype(np.float32), first, None if away is None else away.astype(np.float32))


def _every(size: NDArray[np.int64]) -> Index:
    """Where groups of at most _FAN of one size start."""
    start = firsts(size)
    place = np.arange(len(size)) - np.repeat(start, np.diff(np.append(start, len(size))))
    return np.flatnonzero(place % _FAN == 0)


def _round(centres: Array, radii: Array, inside: Index) -> tuple[Array, Array, Array]:
    """Larger balls' centres and radii, and how far each ball reaches from its larger ball's centre."""
    count = np.diff(inside)
    of = np.repeat(np.arange(len(count)), count)
    mean = np.add.reduceat(centres, inside[:-1]) / count[:, None]
    off = _length(centres - mean[of])
    nearest = np.flatnonzero(off == np.minimum.reduceat(off, inside[:-1])[of])
    middle = nearest[firsts(of[nearest])]
    away = _length(centres - centres[middle][of]) + radii
    return centres[middle], np.maximum.reduceat(away, inside[:-1]), away


def _along_a_curve(points: Array) -> NDArray[np.int64]:
    """Numbers (m,) that order points along a space-filling curve (Morton's), 1,024 steps a side."""
    low = points.min(axis=0)
    span = max(float((points.max(axis=0) - low).max()), np.finfo(np.float32).tiny)
    cells = ((points - low) / span * 1023).astype(np.int64)
    for shift, mask in ((16, 0x030000FF), (8, 0x0300F00F), (4, 0x030C30C3), (2, 0x09249249)):
        cells = (cells | (cells << shift)) & mask
    woven: NDArray[np.int64] = cells[:, 0] | (cells[:, 1] << 1) | (cells[:, 2] << 2)
    return woven


def _length(vectors: Array) -> Array:
    """Lengths (m,) of vectors (m, 3); numpy's norm is many times slower along a short axis."""
    length: Array = np.sqrt(np.einsum("ij,ij->i", vectors, vectors))
    return length
