"""Certified gaps of thousands of placements at once, each with its own ring section and its own shift of the boss.

The surface becomes a pyramid of balls, gone down for all placements together, a (placement, ball) pair an element of
an array; a ball stays while its centre's distance less its radius lies under the least distance known. Four things make
that cheap, each measured on 10,000 placements of meshes of 2k, 50k and 1M triangles:

1. Placements go in groups of near ones. A group's mean section is searched first; no member lies further from it than a
   corner moved, so the pairs left by that margin are all that its members ever need, and its nearest piece gives each
   member a first guess that is nearly right.
2. The groups tell which edges of the section can be nearest and which a ray can cross: two or three of six to eight.
3. Balls in single precision, a slack for its rounding put on every radius (a quarter less time a pair).
4. No branch and bound at the end. hypot(x, y) is convex, so over a triangle it lies under the flat triangle between its
   corners in (r, z) by no more than w^2/(8 r), w its width square to the radius. A flat triangle's distance to the
   section is exact, and bounds the gap from both sides; pieces that leave it open are cut, once for many placements,
   until they stray by a quarter of the tolerance. Only contact needs half-planes (geartrack.clearance.flat).

Compared and dropped: a search for each placement alone, down the same balls (2.2 to 4.4 s where this takes 0.3 to 1.5);
joint branch and bound with the second-order bound, some 3 microseconds a pair where a ball takes 0.03; exact gaps at
anchors with the Lipschitz bound between, which would need an anchor every 0.001 mm of every input.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from geartrack.clearance.bounds import SLACK_MM
from geartrack.clearance.flat import apart, deepest, least_by_row, lower_bounds
from geartrack.clearance.groups import Groups, Search, by_groups, edges_that_matter, groups_of, near_ones_together
from geartrack.clearance.outlines import Index, Outlines, on_axis, outlines
from geartrack.clearance.prepared import Prepared
from geartrack.clearance.pyramid import Pairs, expanded, level_of, pyramid
from geartrack.clearance.search import halved
from geartrack.errors import refuse
from geartrack.frame import Array
from geartrack.tolerances import TOLERANCES, Tolerances

_AT_ONCE = 16_384  # placements that share pyramid and pieces
_MOST_PAIRS = 1_000_000  # (placement, ball) pairs in memory together, but for what one placement has
_PAIRS = 16_384  # (placement, piece) pairs worked on at a time
_PIECE_MM = 1.0  # triangles are cut to this size before they are sorted
_ROUNDING = 2e-6  # of the largest coordinate: what single precision may be off by, several times over
_FLAT_MM = 0.005  # pieces that stray less from flat ones than this are worked as such
_SMALLEST_MM = 0.02  # pieces are not cut smaller, however near the axis they lie


def batch_gap(
    prepared: Prepared, corners: Array, shifts: Array | None = None, *, tolerances: Tolerances = TOLERANCES
) -> tuple[Array, Array]:
    """Certified lower and upper bounds (n,), (n,) [mm] of the gaps of n placements, as `gap` gives them one by one.

    corners: (n, k, 2) of each placement's section in (r, z), counter-clockwise, edges of no length allowed [mm].
    shifts: (n, 3) how far the surface stands from where it was prepared, axle frame [mm]; None for nowhere else.
    upper - lower <= tolerances.gap_mm. Raises InputError where an array is not finite or has another shape.
    """
    n = len(corners)
    shifts = np.zeros((n, 3)) if shifts is None else np.asarray(shifts, float)
    if corners.ndim != 3 or corners.shape[1] < 3 or corners.shape[2] != 2 or shifts.shape != (n, 3):
        raise refuse("placements", f"sections of {corners.shape} and shifts of {shifts.shape}", "(n, k, 2) and (n, 3)")
    if not np.isfinite(corners).all() or not np.isfinite(shifts).all() or (corners[..., 0] < 0).any():
        raise refuse("placements", "a corner or shift is not a finite number, or a corner has r under 0")
    lower, upper = np.empty(n), np.empty(n)
    for rows in _alike(corners):
        sections = corners[rows] - shifts[rows, None, 2:] * np.array([0.0, 1.0])
        order = near_ones_together(np.concatenate([sections.reshape(len(rows), -1), shifts[rows, :2]], axis=1))
        found = _bounds(prepared, sections[order], shifts[rows, :2][order], tolerances.gap_mm)
        lower[rows[order]], upper[rows[order]] = found
    return lower, upper


def _alike(corners: Array) -> Iterator[Index]:
    """Rows whose sections have the same edges on the axis, not too many at once."""
    kinds, kind = np.unique(on_axis(corners), axis=0, return_inverse=True)
    for each in range(len(kinds)):
        rows = np.flatnonzero(kind == each)
        yield from (rows[start : start + _AT_ONCE] for start in range(0, len(rows), _AT_ONCE))


def _bounds(prepared: Prepared, corners: Array, shift: Array, tolerance_mm: float) -> tuple[Array, Array]:
    """Bounds (n,), (n,) [mm] for sections (n, k, 2) [mm] of which near ones lie together, shifts in x and y (n, 2)."""
    tolerance_mm = max(tolerance_mm, 100 * SLACK_MM)
    largest = max(np.abs(prepared.centres).max() + prepared.radii.max(), np.abs(corners).max(), np.abs(shift).max())
    slack = np.float32(_ROUNDING * largest)
    groups = groups_of(corners, shift, slack)
    pieces = _pieces(prepared, groups, slack)
    centroids = pieces.mean(axis=1)
    tree = pyramid(centroids, _reach(pieces, centroids) + slack)
    pieces = pieces[tree.order]
    handed = by_groups(tree, groups, slack)
    view, exact = outlines(corners, shift, np.float32).only(*handed.edges), outlines(corners, shift)
    best = view.at(tree.levels[-1].centres, np.arange(len(corners)), handed.nearest[groups.of]) + slack
    start = tree.levels[handed.level]
    least = handed.pairs.f + groups.margin.take(handed.pairs.row) - start.radii.take(handed.pairs.ball)
    lower, upper = np.full(len(corners), np.inf), np.full(len(corners), np.inf)
    for rows in _blocks(handed.weight[groups.of]):
        first = np.searchsorted(handed.pairs.row, groups.of[rows])
        count = np.searchsorted(handed.pairs.row, groups.of[rows], side="right") - first
        row, chosen = expanded(first, count, rows)
        near_enough = least[chosen] < best[row]
        search = Search(tree.levels, view, best, slack)
        pairs = search.pruned(start, row[near_enough], handed.pairs.ball[chosen[near_enough]])
        pairs = search.down_from(pairs, handed.level)[-1]
        edges = edges_that_matter(search, tree.levels[-1], pairs)
        search = Search(tree.levels, view.only(*edges), best, slack)
        _settle(pieces, pairs, search, exact.only(*edges), tolerance_mm, (lower, upper))
    return np.minimum(lower, upper) - SLACK_MM, upper + SLACK_MM


def _blocks(weight: Index) -> Iterator[Index]:
    """Rows (n,) in turn, so many at a time that their pairs (n,) fit the memory."""
    number = np.cumsum(weight) // _MOST_PAIRS
    cuts = np.flatnonzero(np.diff(number)) + 1
    yield from np.split(np.arange(len(weight)), cuts)


def _pieces(prepared: Prepared, groups: Groups, slack: np.float32) -> Array:
    """Triangles (m, 3, 3) [mm], none much larger than _PIECE_MM, among which every placement's nearest are."""
    tree = pyramid(prepared.centres, prepared.radii + slack)
    best = np.full(len(groups.margin), np.inf, np.float32)
    left = Search(tree.levels, groups.view, best, slack, groups.margin, on_surface=False).from_top()[-1]
    clusters = tree.order[left.ball]
    large = np.flatnonzero(prepared.reach > _PIECE_MM)
    members = prepared.members(np.unique(clusters))
    done = [prepared.corners(members[prepared.reach[members] <= _PIECE_MM])]
    first = np.searchsorted(large, prepared.starts)
    row, ball = expanded(first[clusters], np.diff(first)[clusters], left.row)
    pieces = prepared.corners(large)
    search = Search((), groups.view, best, slack, groups.margin)
    while len(row):
        used, ball = _used(ball, len(pieces))
        pieces = pieces[used]
        centroids = pieces.mean(axis=1)
        reach = _reach(pieces, centroids)
        row, ball, _ = search.pruned(level_of(centroids, reach + slack), row, ball)
        small = reach <= _PIECE_MM
        done.append(pieces[np.unique(ball[small[ball]])])
        row, ball = row[~small[ball]], ball[~small[ball]]
        row, ball = expanded(4 * ball, np.full(len(ball), 4), row)
        pieces = _quartered(pieces)
    return np.concatenate(done)


def _used(chosen: Index, count: int) -> tuple[Index, Index]:
    """Which of `count` things are chosen, and the choice in numbers of those."""
    used = np.zeros(count, bool)
    used[chosen] = True
    return np.flatnonzero(used), (np.cumsum(used) - 1)[chosen]


def _reach(pieces: Array, centroids: Array) -> Array:
    """How far triangles' corners lie from their centroids, at most (m,) [mm]."""
    out = pieces - centroids[:, None]
    reach: Array = np.sqrt(np.einsum("ijk,ijk->ij", out, out).T.max(axis=0))
    return reach


def _settle(
    pieces: Array, pairs: Pairs, search: Search, exact: Outlines, tolerance_mm: float, bounds: tuple[Array, Array]
) -> None:
    """Bounds of the rows in these pairs, from flat triangles; pieces too wide to settle their row are cut smaller."""
    furthest = float(np.hypot(*exact.shift).max())
    todo = [(pieces, pairs.row, pairs.ball)]
    while todo:
        pieces, row, ball = todo.pop()
        middle = int(np.searchsorted(row, row[len(row) // 2])) if len(row) > _MOST_PAIRS else 0
        if middle:
            todo += [(pieces, row[:middle], ball[:middle]), (pieces, row[middle:], ball[middle:])]
            continue
        used, ball = _used(ball, len(pieces))
        pieces = pieces[used]
        sag, reach = _sag(pieces, furthest), _reach(pieces, pieces.mean(axis=1))
        small = reach <= _SMALLEST_MM
        flat, fine = (small | (sag <= _FLAT_MM))[ball], small | (sag <= tolerance_mm / 4)
        open_ = _flat(_Flat(pieces, sag, 2 * reach, fine), row[flat], ball[flat], exact, tolerance_mm, bounds)
        np.minimum(search.best, bounds[1].astype(np.float32) + search.slack, out=search.best)
        flat[flat] = ~open_
        row, ball = row[~flat], ball[~flat]
        pieces = _quartered(pieces)
        centroids = pieces.mean(axis=1)
        level = level_of(centroids, _reach(pieces, centroids) + search.slack)
        left = search.pruned(level, *expanded(4 * ball, np.full(len(ball), 4), row))
        if len(left.row):
            todo.append((pieces, left.row, left.ball))


def _quartered(pieces: Array) -> Array:
    """Each triangle (m, 3, 3) in four, which stay together."""
    four: Array = halved(halved(pieces)).reshape(4, -1, 3, 3).swapaxes(0, 1).reshape(-1, 3, 3)
    return four


def _sag(pieces: Array, furthest: float) -> Array:
    """How far hypot(x, y) may lie under its straight interpolation over each triangle (m, 3, 3), wherever in x and y
    up to `furthest` it is shifted, (m,) [mm].

    At most half the mean square of (v - p) along the tangent, over r: w^2/(8 r), w the width along the tangent. The
    tangent's own turn over the triangle and the shift adds to the width. Derived here.
    """
    middle = pieces.mean(axis=1)
    r = np.maximum(np.hypot(middle[:, 0], middle[:, 1]), np.finfo(float).tiny)
    sides = pieces - pieces[:, (1, 2, 0)]
    size = np.hypot(sides[..., 0], sides[..., 1]).max(axis=1)
    least = np.maximum(r - size - furthest, np.finfo(np.float32).tiny)
    along = (pieces[..., 1] * middle[:, None, 0] - pieces[..., 0] * middle[:, None, 1]) / r[:, None]
    width = np.ptp(along, axis=1) + 2 * size * (size + furthest) / least
    sag: Array = np.minimum(width**2 / (8 * least), size)
    return sag


class _Flat(NamedTuple):
    """Triangles (m, 3, 3), how far flat ones may be from the truth (m,), how wide they are (m,) [mm], and whether a
    flat one is near enough the truth to settle a row (m,)."""

    pieces: Array
    sag: Array
    across: Array
    fine: NDArray[np.bool_]


def _flat(
    flat: _Flat, row: Index, ball: Index, exact: Outlines, tolerance_mm: float, bounds: tuple[Array, Array]
) -> NDArray[np.bool_]:
    """Lower and raise the rows' bounds (lower, upper) by flat triangles; says which (p,) do not settle their row."""
    lower, upper = bounds
    columns = np.ascontiguousarray(flat.pieces.transpose(2, 1, 0))
    sag, fine = flat.sag[ball], flat.fine[ball]
    least, touching = np.empty(len(row)), np.empty(len(row), bool)
    for block in (slice(start, start + _PAIRS) for start in range(0, len(row), _PAIRS)):
        r, z = _in_the_half_plane(columns, exact, row[block], ball[block])
        least[block], touching[block] = apart(exact, row[block], r, z, flat.across[ball[block]])
    deep = np.flatnonzero(touching)
    bound, r, z = least - sag, *_in_the_half_plane(columns, exact, row[deep], ball[deep])
    if len(deep):
        bound[deep], least[deep] = lower_bounds(exact, row[deep], r, z)
        bound[deep] -= sag[deep]
    least_by_row(row, least + sag, upper)
    settled = (bound >= upper[row] - 0.75 * tolerance_mm) | (fine & ~touching)
    least_by_row(row[settled], bound[settled], lower)
    left = ~settled[deep] & fine[deep]
    if left.any():
        widest = float(sag[deep[left]].max())
        best = upper - widest
        rows, deeper = deepest(exact, row[deep[left]], r[:, left], z[:, left], best, tolerance_mm / 4)
        np.minimum.at(lower, rows, deeper - widest)
        np.minimum(upper, best + widest, out=upper)
    return ~settled & ~(touching & fine)


def _in_the_half_plane(columns: Array, exact: Outlines, row: Index, ball: Index) -> tuple[Array, Array]:
    """(r, z) of the corners of chosen triangles, each (3, p) [mm]. columns: [coordinate, corner, triangle]."""
    x, y, z = (column.take(ball, axis=1) for column in columns)
    return np.stack([exact.meridian(row, x[i], y[i]) for i in range(3)]), z
