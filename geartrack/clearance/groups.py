"""The search down a pyramid of balls, and groups of like placements that make most of it once for all their members."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import zip_longest
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from geartrack.clearance.flat import least_by_row
from geartrack.clearance.outlines import Index, Outlines, outlines
from geartrack.clearance.pyramid import Level, Pairs, Pyramid, firsts
from geartrack.frame import Array

_GROUP = 64  # placements in a group, at most
_COARSE = 4.0  # groups hand over to their members where balls are this many times as large as a group's margin

Edges = tuple[int, ...]


class Groups(NamedTuple):
    """of: (n,) each placement's group; view: the groups' means; margin: (g,) no member's distances differ by more."""

    of: Index
    view: Outlines
    margin: NDArray[np.float32]


@dataclass(frozen=True, eq=False)
class Search:
    """A way down a pyramid. best: (n,) least distance known to be reached, kept up to date [mm]; slack: for rounding
    [mm]; margin: (n,) by how much what a row stands for may differ [mm]; on_surface: whether balls are centred there.
    """

    levels: tuple[Level, ...]
    view: Outlines
    best: Any
    slack: Any
    margin: Any = None
    on_surface: bool = True

    def pruned(self, level: Level, row: Index, ball: Index) -> Pairs:
        """The pairs that may hold a distance under the best; their f is made less by what it may be off by."""
        f = self.view.at(level.centres, row, ball)
        radii = level.radii.take(ball)
        least_by_row(row, f + self.slack if self.on_surface else f + radii, self.best)
        if self.margin is not None:
            f -= 2 * self.margin.take(row)
        keep = f - radii < self.best.take(row)
        return Pairs(row[keep], ball[keep], f[keep])

    def down(self, row: Index, ball: Index, first: int = 0) -> list[Pairs]:
        """The pairs left at each level from the first down."""
        left = []
        for level, below in zip_longest(self.levels[first:], self.levels[first + 1 :]):
            left.append(self.pruned(level, row, ball))
            if below:
                row, ball = level.children(left[-1], self.best)
        return left

    def from_top(self) -> list[Pairs]:
        """The pairs left at each level, every row and every ball of the top at first."""
        rows, balls = len(self.best), len(self.levels[0].radii)
        return self.down(np.repeat(np.arange(rows), balls), np.tile(np.arange(balls), rows))


def near_ones_together(features: Array) -> Index:
    """An order of placements (n, m) [mm] in which those of a group lie close: halved across the widest feature."""
    order = np.arange(len(features))
    spans = [(0, len(features))]
    while spans:
        start, end = spans.pop()
        if end - start > _GROUP:
            part = order[start:end]
            middle = (end - start + _GROUP) // (2 * _GROUP) * _GROUP
            order[start:end] = part[np.argpartition(features[part, features[part].std(axis=0).argmax()], middle)]
            spans += [(start, start + middle), (start + middle, end)]
    return order


def groups_of(corners: Array, shift: Array, slack: np.float32) -> Groups:
    """Every _GROUP placements in turn."""
    of = np.arange(len(corners)) // _GROUP
    starts = firsts(of)
    count = np.diff(np.append(starts, len(of)))
    section = np.add.reduceat(corners, starts) / count[:, None, None]
    place = np.add.reduceat(shift, starts) / count[:, None]
    moved = np.linalg.norm(corners - section[of], axis=2).max(axis=1) + np.linalg.norm(shift - place[of], axis=1)
    margin = np.maximum.reduceat(moved, starts) + slack
    return Groups(of, outlines(section, place, np.float32), margin.astype(np.float32))


def by_groups(tree: Pyramid, groups: Groups, slack: np.float32) -> tuple[Pairs, int, Index, Edges, Edges]:
    """What the groups find for their members: pairs to start from and their level, each group's nearest piece, the
    edges that may be nearest and those that a ray may cross."""
    best = np.full(len(groups.margin), np.inf, np.float32)
    search = Search(tree.levels, groups.view, best, slack, groups.margin)
    left = search.from_top()
    typical = _COARSE * float(np.median(groups.margin))
    fine = (np.median(each.radii.take(p.ball)) < typical for each, p in zip(tree.levels, left, strict=True))
    level = next((i for i, small in enumerate(fine) if small), len(left) - 1)
    handed, last = left[level], left[-1]
    handed = handed.where(handed.f - tree.levels[level].radii.take(handed.ball) < best.take(handed.row))
    nearest = last.ball[np.lexsort((last.f, last.row))[firsts(last.row)]]
    near = _may_be_nearest(search, tree.levels[-1], last)
    crossed = _may_be_crossed(search, tree.levels[level], handed)
    return handed, level, nearest, near, crossed


def _places(search: Search, level: Level, pairs: Pairs) -> tuple[Array, Array, Array]:
    """(r, z) of the pairs' balls and how far round them any member's points lie, each (p,) [mm]."""
    x, y, z = (column.take(pairs.ball) for column in level.centres)
    return search.view.meridian(pairs.row, x, y), z, level.radii.take(pairs.ball) + search.margin.take(pairs.row)


def _may_be_nearest(search: Search, level: Level, pairs: Pairs) -> Edges:
    """Edges that may be the nearest to a point that decides a gap: as near as the best, or as a point lies deep."""
    r, z, round_ = _places(search, level, pairs)
    margin = search.margin.take(pairs.row)
    within = np.maximum(search.best.take(pairs.row) + margin, round_ + margin - pairs.f) + round_
    away = (search.view.away(each, pairs.row, r, z) for each in search.view.near)
    return tuple(each for each, mm in zip(search.view.near, away, strict=True) if (mm <= within).any())


def _may_be_crossed(search: Search, level: Level, pairs: Pairs) -> Edges:
    """Edges that a ray toward the axis, from any place in the balls, may cross."""
    r, z, round_ = _places(search, level, pairs)
    right, low, high = (r + round_).max(), (z - round_).min(), (z + round_).max()
    margin, found = search.margin.max(), []
    for each in search.view.crossed:
        ar, az, bz, er, *_ = search.view.edges[each]
        level_with = (np.minimum(az, bz) - margin <= high) & (np.maximum(az, bz) + margin >= low)
        if (level_with & (np.minimum(ar, ar + er) - margin <= right)).any():
            found.append(each)
    return tuple(found)
