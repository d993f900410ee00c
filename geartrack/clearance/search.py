"""Branch and bound: the least signed distance between a surface and a solid of revolution, between certified bounds."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from geartrack.clearance.bounds import SLACK_MM, lower_bounds, outline
from geartrack.clearance.prepared import Prepared
from geartrack.frame import Array, meridian
from geartrack.section import Section
from geartrack.sweep import Pose, signed_distance

_FEW_PIECES = 32  # under this, a round takes as long with one piece as with all of them
_MOST_PIECES = 400_000  # where a search would need more, its bounds come back wider than asked, still certified


@dataclass(frozen=True, eq=False)
class View:
    """The axle as a turning body sees it: its own axis as Z. turn : (3, 3) rotation; shift : (3,) [mm]."""

    turn: Array
    shift: Array

    def inward(self, points: Array) -> Array:
        """Axle-frame points (..., 3) [mm] in the body's frame."""
        inward: Array = (points - self.shift) @ self.turn
        return inward

    def outward(self, points: Array) -> Array:
        """Body-frame points (..., 3) [mm] in the axle frame."""
        outward: Array = points @ self.turn.T + self.shift
        return outward


def ring_view(pose: Pose) -> View:
    """The view from the posed ring."""
    return View(pose.rotation(), np.array([pose.dx_mm, pose.dy_mm, pose.dz_mm]))


def pinion_view(offset_mm: float) -> View:
    """The view from the pinion, whose axis is y = offset, z = 0 and runs along X: its frame is (y - offset, z, x)."""
    return View(np.array([[0.0, 0.0, 1.0], [1.0, 0.0, 0.0], [0.0, 1.0, 0.0]]), np.array([0.0, offset_mm, 0.0]))


@dataclass
class _Best:
    """The least distance met so far, with its place in the body's frame, and the least bound of what was set aside."""

    distance: float
    point: Array
    settled: float = np.inf

    def offer(self, distances: Array, points: Array) -> None:
        index = int(np.argmin(distances))
        if distances[index] < self.distance:
            self.distance, self.point = float(distances[index]), points[index].copy()

    def worth_splitting(self, lower: Array, tolerance_mm: float) -> NDArray[np.intp]:
        """Which bounds lie further under the best than the tolerance; the others are settled."""
        open_ = lower < self.distance - tolerance_mm
        self.settled = min(self.settled, float(lower[~open_].min(initial=np.inf)))
        return np.flatnonzero(open_)


def least_distance(prepared: Prepared, section: Section, view: View, tolerance_mm: float) -> tuple[float, float, Array]:
    """Certified lower and upper bound of the least signed distance [mm], and the point (3,) in the axle frame that has
    the upper one as its distance. They lie no further apart than the tolerance, or 4 times the slack for rounding."""
    tolerance_mm = max(tolerance_mm, 4 * SLACK_MM)
    best, pieces = _near_triangles(prepared, section, view, tolerance_mm)
    shape = outline(section)
    while len(pieces):
        lower, f = lower_bounds(shape, pieces)
        best.offer(f.ravel(), pieces.reshape(-1, 3))
        open_ = best.worth_splitting(lower, tolerance_mm)
        if len(open_) > _MOST_PIECES:
            best.settled = min(best.settled, float(lower[open_].min()))
            break
        pieces = _split(pieces[open_])
    return min(best.settled, best.distance), best.distance, view.outward(best.point)


def _near_triangles(prepared: Prepared, section: Section, view: View, tolerance_mm: float) -> tuple[_Best, Array]:
    """The triangles (k, 3, 3) in the body's frame that could hold the least distance, by balls round clusters, then
    round triangles."""
    f = signed_distance(section, meridian(view.inward(prepared.centres)))
    lower = f - prepared.radii
    first = prepared.members(np.array([np.argmin(f)]))
    seeds = view.inward(prepared.corners(first)).reshape(-1, 3)
    best = _Best(np.inf, seeds[0])
    best.offer(signed_distance(section, meridian(seeds)), seeds)
    near = prepared.members(best.worth_splitting(lower, tolerance_mm))
    if not len(near):
        return best, np.empty((0, 3, 3))
    corners = prepared.corners(near)
    centroids = view.inward(corners.mean(axis=1))
    f = signed_distance(section, meridian(centroids))
    best.offer(f, centroids)
    open_ = best.worth_splitting(f - prepared.reach[near], tolerance_mm)
    return best, view.inward(corners[open_])


def _split(pieces: Array) -> Array:
    """Each triangle in four, or in more while there are few."""
    pieces = halved(halved(pieces))
    while 0 < len(pieces) <= _FEW_PIECES:
        pieces = halved(pieces)
    return pieces


def halved(pieces: Array) -> Array:
    """Each triangle of pieces (n, 3, 3) [mm] cut in two across the middle of its longest edge."""
    row = np.arange(len(pieces))
    sides = pieces - pieces[:, (1, 2, 0)]
    longest = np.einsum("ijk,ijk->ij", sides, sides).argmax(axis=1)
    a, b, c = (pieces[row, (longest + i) % 3] for i in range(3))
    middle = (a + b) / 2
    return np.concatenate([np.stack([a, middle, c], axis=1), np.stack([middle, b, c], axis=1)])
