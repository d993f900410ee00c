"""The search down a pyramid of balls, and groups of like placements that make most of it once for all their members."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from geartrack.clearance.flat import least_by_row
from geartrack.clearance.outlines import Index, Outlines, outlines
from geartrack.clearance.pyramid import Level, Pairs, Pyramid, firsts
from geartrack.frame import Array

_GROUP = 64  # placements in a group, at most
_COARSE = 2.0  # groups hand over to their members where balls are this many times as large as a group's margin

Edges = tuple[int, ...]


class Groups(NamedTuple):
    """of: (n,) each placement's group; view: the groups' means; margin: (g,) no member differs by more [mm]."""

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

    def down_from(self, pairs: Pairs, at: int) -> list[Pairs]:
        """The pairs left at each level from one down whose pairs are known."""
        left = [pairs]
        for above, level in pairwise(self.levels[at:]):
            left.append(self.pruned(level, *above.children(left[-1], self.best)))
        return left

    def from_top(self) -> list[Pairs]:
        """The pairs left at each level, every row and every ball of the top at first."""
        rows, balls = len(self.best), len(self.levels[0].radii)
        top = self.pruned(self.levels[0], np.repeat(np.arange(rows), balls), np.tile(np.arange(balls), rows))
        return self.down_from(top, 0)


def near_ones_together(features: Array) -> Index:
    """An order of placements in which those of a group lie close, by features (n, m) [mm]: halved across the widest."""
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
    """Every _GROUP placements in turn, of corners (n, k, 2) [mm] and shift (n, 2) [mm]."""
    of = np.arange(len(corners)) // _GROUP
    starts = firsts(of)
    count = np.diff(np.append(starts, len(of)))
    section = np.add.reduceat(corners, starts) / count[:, None, None]
    place = np.add.reduceat(shift, starts) / count[:, None]
    moved = np.linalg.norm(corners - section[of], axis=2).max(axis=1) + np.linalg.norm(shift - place[of], axis=1)
    margin = np.maximum.reduceat(moved, starts) + slack
    return Groups(of, outlines(section, place, np.float32), margin.astype(np.float32))


class Handed(NamedTuple):
    """What groups find for their members: pairs to start from, their level in the pyramid, each group's nearest ball of
    the last level (g,), the edges that matter, and how many pairs each group had left there (g,)."""

    pairs: Pairs
    level: int
    nearest: Index
    edges: tuple[Edges, Edges]
    weight: Index


def by_groups(tree: Pyramid, groups: Groups, slack: np.float32) -> Handed:
    """The search for every group, its margin left for its members."""
    best = np.full(len(groups.margin), np.inf, np.float32)
    search = Search(tree.levels, groups.view, best, slack, groups.margin)
    left = search.from_top()
    typical = _COARSE * float(np.median(groups.margin))
    fine = (np.median(each.radii.take(p.ball)) < typical for each, p in zip(tree.levels, left, strict=True))
    level = next((i for i, small in enumerate(fine) if small), len(left) - 1)
    pairs, last = left[level], left[-1]
    pairs = pairs.where(pairs.f - tree.levels[level].radii.take(pairs.ball) < best.take(pairs.row))
    nearest = last.ball[np.lexsort((last.f, last.row))[firsts(last.row)]]
    near, _ = edges_that_matter(search, tree.levels[-1], last)
    _, crossed = edges_that_matter(search, tree.levels[level], pairs)
    return Handed(pairs, level, nearest, (near, crossed), np.bincount(last.row, minlength=len(best)))


def edges_that_matter(search: Search, level: Level, pairs: Pairs) -> tuple[Edges, Edges]:
    """Edges that may be nearest to a point that decides a gap, as near as the best or as a point lies deep; and edges
    that a ray toward the axis may cross, from any place in the balls."""
    view, row = search.view, pairs.row
    x, y, z = (column.take(pairs.ball) for column in level.centres)
    r, margin = view.meridian(row, x, y), 0 if search.margin is None else search.margin.take(row)
    round_ = level.radii.take(pairs.ball) + margin
    within = np.maximum(search.best.take(row) + margin, round_ + margin - pairs.f) + round_
    near = tuple(each for each in view.near if (view.away(each, row, r, z) <= within).any())
    right, low, high = (r + round_).max(), (z - round_).min(), (z + round_).max()
    farthest, crossed = np.max(margin), []
    for each in view.crossed:
        ar, az, bz, er, *_ = view.edges[each]
        level_with = (np.minimum(az, bz) - farthest <= high) & (np.maximum(az, bz) + farthest >= low)
        if (level_with & (np.minimum(ar, ar + er) - farthest <= right)).any():
            crossed.append(each)
    return near, tuple(crossed)
