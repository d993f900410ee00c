"""Bores found among the patches of a scan: two patches with their normals say where a cylinder would be (RANSAC).

The second patch of a pair is drawn from near the first, since a bore is small beside a case. Every draw is seeded.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from geartrack.boss.scan.fits import across_of, seen_turn
from geartrack.boss.scan.points import Index, Patches
from geartrack.frame import Array

_PAIRS, _BATCHES, _WITNESSES = 30_000, 4, 12
_LIKELY, _SETTLED, _SAMPLE = 300, 3, 2000
_LEAST_SINE = 0.25  # of the angle between two normals: less says nothing of the axis
_RADIAL, _SQUARE = 0.93, 0.3  # how well a patch's normal must point at the axis, and away from along it
_NEAR_MM, _NEAR_SHARE = 0.25, 0.02  # how far from its cylinder a patch may lie
_SAME_MM, _SAME_COSINE = 1.5, 0.999


@dataclass(frozen=True, eq=False)
class Found:
    """A cylinder that patches lie on: a point (3,) [mm] amid them, its axis (3,), its radius [mm].

    score: weight of the patches on it, times how much of its turn they cover; turn: that share [-].
    """

    point: Array
    axis: Array
    radius_mm: float
    score: float
    turn: float


def find_cylinders(
    patches: Patches,
    rng: np.random.Generator,
    *,
    radii_mm: tuple[float, float],
    square_to: Array | None = None,
    seeds: NDArray[np.bool_] | None = None,
    most: int = 6,
) -> list[Found]:
    """Cylinders of a radius between two [mm] among the patches, the best seen first, each once.

    square_to (3,) [-]: only those whose axis is square to this one. seeds (k,) [-]: pairs come from these patches only.
    """
    pool = np.flatnonzero(seeds) if seeds is not None else np.arange(len(patches.weight))
    if len(pool) < 4:
        return []
    point, axis, radius = _pairs(patches, pool, rng, radii_mm, square_to)
    if not len(radius):
        return []
    sample = patches.only(rng.choice(len(patches.weight), min(_SAMPLE, len(patches.weight)), replace=False))
    on = np.stack([_on(sample, *each)[1] for each in zip(point, axis, radius, strict=True)])
    left, kept = sample.weight.copy(), list[Found]()
    for _ in range(most):
        rough = on @ left
        best = np.argsort(-rough, kind="stable")[:_SETTLED]
        settled = [_settled(patches, Found(point[i], axis[i], float(radius[i]), 0.0, 0.0), radii_mm) for i in best]
        found = max((each for each in settled if each is not None), key=lambda each: each.score, default=None)
        gone = on[best].any(axis=0) if found is None else on_cylinder(sample, found)
        if found is not None and not any(_same(found, other) for other in kept):
            kept.append(found)
        if not (left[gone] > 0).any():
            left[on[best[0]]] = 0.0
        left[gone] = 0.0
    return sorted(kept, key=lambda each: -each.score)


def on_cylinder(patches: Patches, found: Found) -> NDArray[np.bool_]:
    """Which patches lie on a cylinder, (k,)."""
    return _on(patches, found.point, found.axis, found.radius_mm)[1]


def _pairs(
    patches: Patches, pool: Index, rng: np.random.Generator, radii_mm: tuple[float, float], square_to: Array | None
) -> tuple[Array, Array, Array]:
    """Centres, axes and radii of the cylinders that pairs of patches agree on, at most _LIKELY of them."""
    near = 2.4 * np.geomspace(*radii_mm, _BATCHES)
    parts = [_batch(patches, pool, rng, radii_mm, square_to, each) for each in near]
    point, axis, radius, support = (np.concatenate([part[i] for part in parts]) for i in range(4))
    best = np.argsort(-support, kind="stable")[:_LIKELY]
    return point[best], axis[best], radius[best]


def _batch(
    patches: Patches,
    pool: Index,
    rng: np.random.Generator,
    radii_mm: tuple[float, float],
    square_to: Array | None,
    near_mm: float,
) -> tuple[Array, Array, Array, Array]:
    cell = np.floor(patches.centres[pool] / near_mm + rng.random(3)).astype(np.int64)
    cell -= cell.min(axis=0)
    shape = cell.max(axis=0) + 1
    _, owner = np.unique((cell[:, 0] * shape[1] + cell[:, 1]) * shape[2] + cell[:, 2], return_inverse=True)
    order, count = np.argsort(owner, kind="stable"), np.bincount(owner)
    start = np.cumsum(count) - count
    first = rng.integers(len(pool), size=_PAIRS // _BATCHES)

    def mates(of: Index, each: int) -> Index:
        """Patches drawn from the block of each, (k, each)."""
        block = owner[of][:, None]
        found: Index = pool[order[start[block] + (rng.random((len(of), each)) * count[block]).astype(np.intp)]]
        return found

    i, j = pool[first], mates(first, 1)[:, 0]
    p, q, n, m = patches.centres[i], patches.centres[j], patches.normals[i], patches.normals[j]
    axis = np.cross(n, m)
    sine = np.linalg.norm(axis, axis=1)
    good = sine > _LEAST_SINE
    good &= True if square_to is None else np.abs(axis @ square_to) < 0.1 * sine
    first, p, q, n, m, axis, sine = (each[good] for each in (first, p, q, n, m, axis, sine))
    axis /= sine[:, None]
    along, back = (np.einsum("ij,ij->i", np.cross(q - p, k), axis) / sine for k in (m, n))
    radius = (np.abs(along) + np.abs(back)) / 2
    differ = np.abs(np.abs(along) - np.abs(back)) / np.maximum(radius, 1.0)
    margin = 0.04 * radii_mm[1] + 0.3
    good = (radius > radii_mm[0] - margin) & (radius < radii_mm[1] + margin) & (differ < 0.15)
    centre = p + along[:, None] * n + (np.einsum("ij,ij->i", (q - p), axis) / 2)[:, None] * axis
    first, centre, axis, radius = first[good], centre[good], axis[good], np.clip(radius[good], *radii_mm)
    return centre, axis, radius, _support(patches, mates(first, _WITNESSES), centre, axis, radius)


def _support(patches: Patches, near: Index, centre: Array, axis: Array, radius: Array) -> Array:
    """How many patches drawn near each pair lie on its cylinder, (k,): two faces that meet at an edge have none."""
    away = patches.centres[near] - centre[:, None]
    flat = away - np.einsum("kwi,ki->kw", away, axis)[..., None] * axis[:, None]
    out = np.sqrt(np.einsum("kwi,kwi->kw", flat, flat))
    radial = np.abs(np.einsum("kwi,kwi->kw", patches.normals[near], flat)) / np.maximum(out, 1e-9)
    close = np.abs(out - radius[:, None]) < 2 * (_NEAR_MM + _NEAR_SHARE * radius[:, None])
    support: Array = (close & (radial > _RADIAL)).sum(axis=1).astype(float)
    return support


def _on(patches: Patches, point: Array, axis: Array, radius: float) -> tuple[float, NDArray[np.bool_]]:
    """Score, and which patches lie on a cylinder near a point of its axis."""
    away = patches.centres - point
    along = away @ axis
    flat = away - along[:, None] * axis
    out = np.sqrt(np.einsum("ij,ij->i", flat, flat))
    near: NDArray[np.bool_] = (np.abs(out - radius) < _NEAR_MM + _NEAR_SHARE * radius) & (np.abs(along) < 2.2 * radius)
    chosen = np.flatnonzero(near)
    radial = np.abs(np.einsum("ij,ij->i", patches.normals[chosen], flat[chosen])) / np.maximum(out[chosen], 1e-9)
    leaning = np.abs(patches.normals[chosen] @ axis)
    near[chosen] = (radial > _RADIAL) & (leaning < _SQUARE)
    return float(patches.weight[near].sum()), near


def _settled(patches: Patches, found: Found, radii_mm: tuple[float, float]) -> Found | None:
    """The cylinder moved to where its patches say it is."""
    point, axis, radius = found.point, found.axis, found.radius_mm
    for _ in range(4):
        _, on = _on(patches, point, axis, radius)
        if on.sum() < 6:
            return None
        away, across = patches.centres[on] - point, across_of(axis)
        flat, along = away @ across.T, away @ axis
        out = np.hypot(*flat.T)
        slopes = np.column_stack([flat / out[:, None], along[:, None] * flat / out[:, None], np.ones(len(out))])
        step = np.linalg.lstsq(slopes, out - radius, rcond=1e-4)[0]
        point = point + step[:2] @ across + np.median(along) * axis
        axis = axis + step[2:4] @ across
        axis /= np.linalg.norm(axis)
        radius = float(np.clip(radius + step[4], *radii_mm))
    score, on = _on(patches, point, axis, radius)
    if not on.any():
        return None
    across = across_of(axis)
    turn = seen_turn(np.arctan2(*((patches.centres[on] - point) @ across.T).T))
    return Found(point, axis, radius, score * turn, turn)


def _same(one: Found, other: Found) -> bool:
    away = one.point - other.point
    along = float(away @ other.axis)
    apart = float(np.linalg.norm(away - along * other.axis))
    return (
        abs(float(one.axis @ other.axis)) > _SAME_COSINE
        and apart < _SAME_MM
        and abs(one.radius_mm - other.radius_mm) < _SAME_MM
        and abs(along) < one.radius_mm + other.radius_mm
    )
