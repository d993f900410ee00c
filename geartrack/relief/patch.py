"""What the least cut takes off: the boss's surface inside the grown sweep, and the volume behind it."""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

from geartrack.boss.mesh import Triangles
from geartrack.frame import Array, meridian
from geartrack.relief.sweep_field import GrownSweep
from geartrack.relief.triangles import Index, halved, normals, touching
from geartrack.relief.volume import common_volume

_EDGE_SHARE = 0.8  # of the patch's area that the pieces along its edge may make up
_EDGE_PIECES = 4000, 10  # so many, or so many for each triangle there, are enough; ten times as many to find a patch
_SPECK_MM = 1e-9  # a piece smaller than this is rounding
VOLUME_SHARE = 5e-4  # error of a volume that is worth no more work: 0.05 %


@dataclass(frozen=True, eq=False)
class Patch:
    """The boss's surface inside the grown sweep.

    volume_mm3: of the metal inside; error_mm3: what it may be off by; area_mm2: of the surface inside.
    points: (n, 3) corners of the pieces that hold the surface, axle frame [mm]; none where nothing is touched.
    """

    volume_mm3: float
    error_mm3: float
    area_mm2: float
    points: Array


def find_patch(vertices: Array, triangles: Triangles, sweep: GrownSweep, *, share: float = VOLUME_SHARE) -> Patch:
    """The patch of a closed mesh, wound outward, vertices (n, 3) [mm] in the axle frame, inside the grown sweep.

    share: of the volume, the error that is worth no more work [-]. Metal inside the sweep shares its height with some
    of the patch, as every circle round the ring axis leaves the boss somewhere: no other height need be looked at.
    """
    r, z = np.hypot(vertices[:, 0], vertices[:, 1]), vertices[:, 2]
    inner, low, high = sweep.bounds(float(z.max()))
    near = touching(triangles, r > inner, z > low, z < high)
    found = _resolved(vertices[near], sweep, coarse=(high - low) / 8)
    met = found.corners[found.distance <= found.radius]
    area, points = _surface(met, sweep), met.reshape(-1, 3)
    if area == 0:
        return Patch(0.0, 0.0, 0.0, points[:0])
    least, greatest = np.full((2, len(near)), [[np.inf], [-np.inf]])
    np.minimum.at(least, found.owner, found.corners[..., 2].min(axis=1))
    np.maximum.at(greatest, found.owner, found.corners[..., 2].max(axis=1))
    least, greatest = (np.clip(ends, points[:, 2].min(), points[:, 2].max()) for ends in (least, greatest))
    return Patch(*common_volume(vertices[near], sweep, least, greatest, share), area, points)


@dataclass(frozen=True, eq=False)
class _Pieces:
    """Parts of triangles, (m, 3, 3): whose they are, their centroids' distance to the sweep, their radius and area."""

    corners: Array
    owner: Index
    distance: Array
    radius: Array
    area: Array

    @staticmethod
    def of(corners: Array, owner: Index, sweep: GrownSweep) -> _Pieces:
        centres = corners.mean(axis=1)
        radius = np.sqrt(((corners - centres[:, None]) ** 2).sum(axis=2).max(axis=1))
        return _Pieces(corners, owner, sweep.distance(centres), radius, np.linalg.norm(normals(corners), axis=1))

    def only(self, chosen: NDArray[np.bool_]) -> _Pieces:
        return _Pieces(*(getattr(self, f.name)[chosen] for f in fields(self)))

    def and_(self, other: _Pieces) -> _Pieces:
        return _Pieces(*(np.concatenate([getattr(self, f.name), getattr(other, f.name)]) for f in fields(self)))


def _resolved(corners: Array, sweep: GrownSweep, coarse: float) -> _Pieces:
    """Pieces that reach the grown sweep or lie behind it.

    Distance being 1-Lipschitz, a piece whose centroid is further off than its radius is certainly clear. Pieces are
    halved along the patch's edge until those are little of it; so a patch of any size is found: while there is none,
    everything that could hold one is halved. Pieces behind the sweep, as seen from the ring axis, count for the volume;
    none larger than `coarse` may hide that it does.
    """
    pieces, enough = _Pieces.of(corners, np.arange(len(corners)), sweep), 0
    while True:
        clear, edge = pieces.distance > pieces.radius, np.abs(pieces.distance) <= pieces.radius
        inside = pieces.distance < 0
        rough = pieces.area[edge].sum() > _EDGE_SHARE * pieces.area[inside].sum()
        enough = enough or max(_EDGE_PIECES[0], _EDGE_PIECES[1] * int(edge.sum()))
        rough &= edge.sum() < enough * (1 if inside.any() else 10)
        least = max(pieces.radius[edge].max(initial=0.0) / 2, _SPECK_MM)
        split = (clear & (pieces.radius > coarse)) | (edge & (pieces.radius > least) & rough)
        if not split.any():
            break
        parts = pieces.only(split)
        halves = _Pieces.of(halved(parts.corners), np.tile(parts.owner, 2), sweep)
        pieces = pieces.only(~split).and_(halves)
    clear[clear] = ~_behind(pieces.corners[clear], sweep)
    return pieces.only(~clear)


def _behind(pieces: Array, sweep: GrownSweep) -> NDArray[np.bool_]:
    """Whether pieces have a corner or their middle further from the ring axis than some of the sweep at its height."""
    r, z = np.moveaxis(meridian(np.concatenate([pieces, pieces.mean(axis=1)[:, None]], axis=1)), -1, 0)
    behind: NDArray[np.bool_] = np.zeros(r.size, bool)
    for _, start, end in sweep.rings(z.ravel()):
        behind |= (end > start) & (start < r.ravel())
    some: NDArray[np.bool_] = np.logical_or.reduce(behind.reshape(r.shape), axis=1)
    return some


def _surface(pieces: Array, sweep: GrownSweep) -> float:
    """Area of the pieces inside the grown sweep [mm2], distance taken as linear on a piece; 0 where none is found."""
    low, middle, high = np.sort(sweep.distance(pieces), axis=1).T
    with np.errstate(divide="ignore", invalid="ignore"):
        corner_in = low**2 / ((middle - low) * (high - low))
        corner_out = 1 - high**2 / ((high - low) * (high - middle))
    share = np.select([high <= 0, middle <= 0, low < 0], [1.0, corner_out, corner_in], 0.0)
    return float(share @ np.linalg.norm(normals(pieces), axis=1))
