"""Which triangles meet at which edges: neighbours, shells, rims of holes, and what is wound the other way."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from geartrack.boss.mesh import Triangles

Index = NDArray[np.int32]
Mask = NDArray[np.bool_]


@dataclass(frozen=True, eq=False)
class Edges:
    """The edges of triangles (m, 3).

    pairs : (k, 2) triangles that alone share an edge; sides : (k, 2) from which corner of each it runs
    against : (k,) whether they run along it the same way, so that one of them is wound the wrong way round
    open : (b, 2) vertices of edges with one triangle, as it runs along them; owner, side : (b,) that triangle, and from
        which of its corners
    branching : (n, 2) vertices of edges with three triangles or more
    """

    count: int
    pairs: Index
    sides: Index
    against: Mask
    open: Index
    owner: Index
    side: Index
    branching: Index

    @cached_property
    def _sides(self) -> tuple[Index, Index]:
        """The part that each triangle is in as it is and turned round, (m,) both.

        Each triangle stands for two, as it is and turned round, each joined to that one of its neighbour's two which is
        wound alike: a shell with two sides falls into two parts, one the other turned round.
        """
        one, other = self.pairs.T
        own, turned = np.where(self.against, np.int32(self.count), np.int32(0)), np.int32(self.count)
        part = _parts(2 * self.count, np.append(one, one + turned), np.append(other + own, other + turned - own))
        return part[: self.count], part[self.count :]

    @cached_property
    def shells(self) -> Index:
        """The number of the shell of each triangle, (m,): shells hang together by edges of two triangles."""
        number: Index = np.unique(np.minimum(*self._sides), return_inverse=True)[1].astype(np.int32)
        return number

    @cached_property
    def one_sided(self) -> Mask:
        """Which shells have but one side, so that no winding is right, (shells,)."""
        as_is, turned = self._sides
        found = np.zeros(int(self.shells.max()) + 1, bool)
        found[self.shells[as_is == turned]] = True
        return found

    @cached_property
    def turned(self) -> Mask:
        """Which triangles are wound against most of their shell, (m,); none of a shell with but one side."""
        as_is, turned = self._sides
        size = np.bincount(as_is, minlength=int(max(as_is.max(), turned.max())) + 1)
        less: Mask = (size[as_is] < size[turned]) | ((size[as_is] == size[turned]) & (as_is > turned))
        return less

    @cached_property
    def fans(self) -> Index:
        """The number of the fan that each triangle's corner is in, (m, 3); a vertex where rims touch has several."""
        one, other = self.pairs.T.astype(np.int64)
        side, its = self.sides.T.astype(np.int64)
        start, end = 3 * one + side, 3 * one + (side + 1) % 3
        its_start, its_end = 3 * other + its, 3 * other + (its + 1) % 3
        its_start, its_end = np.where(self.against, its_start, its_end), np.where(self.against, its_end, its_start)
        return _parts(3 * self.count, np.append(start, end), np.append(its_start, its_end)).reshape(-1, 3)

    @cached_property
    def rims(self) -> Index:
        """The number of the rim that each open edge belongs to, (b,): rims hang together by their vertices."""
        points, number = np.unique(self.open, return_inverse=True)
        one, other = number.reshape(-1, 2).T
        return _parts(len(points), one, other)[one]


def edges(triangles: Triangles) -> Edges:
    """Edges of triangles (m, 3), at least one."""
    count = len(triangles)
    start = triangles.T.ravel()
    end = triangles[:, [1, 2, 0]].T.ravel()
    key = np.minimum(start, end).astype(np.int64) << 32 | np.maximum(start, end)
    order = np.argsort(key).astype(np.int32)
    key = key[order]
    first = np.flatnonzero(np.concatenate([[True], key[1:] != key[:-1]]))
    many = np.diff(first, append=len(key))
    alone, twice, more = order[first[many == 1]], first[many == 2], order[first[many > 2]]
    one, other = order[twice], order[twice + 1]
    return Edges(
        count=count,
        pairs=np.stack([one % count, other % count], axis=1),
        sides=np.stack([one // count, other // count], axis=1),
        against=start[one] == start[other],
        open=np.stack([start[alone], end[alone]], axis=1),
        owner=alone % count,
        side=alone // count,
        branching=np.stack([start[more], end[more]], axis=1),
    )


def _parts(count: int, one: NDArray[np.integer], other: NDArray[np.integer]) -> Index:
    """The number of the part that each of `count` things hangs together in, (count,); one, other (k,): joined."""
    from scipy.sparse import coo_matrix
    from scipy.sparse.csgraph import connected_components

    joined = coo_matrix((np.ones(len(one), bool), (one, other)), shape=(count, count))
    number: Index = connected_components(joined, directed=False)[1]
    return number
