"""Cylinders and planes through scanned points, fitted so that what does not belong hardly counts.

Gauss-Newton with Tukey's biweight, its scale from the median absolute deviation, as in texts on robust regression (from
memory). The covariance of a fit is taken as if no more than `INDEPENDENT` of its points were: a scanner's errors, and
those of a bore's own shape, are alike from point to point, so that ten thousand points do not make an axis a hundred
times better than one.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from geartrack.frame import Array

INDEPENDENT = 60
_TUKEY, _MAD = 4.685, 1.4826  # 95 % efficient on normal errors; median absolute deviation to sigma; from memory
_ROUNDS, _LEAST_SIGMA_MM = 25, 1e-5


@dataclass(frozen=True, eq=False)
class Cylinder:
    """An axis through one or more bores that share it.

    point (3,) [mm], axis (3,) of length 1; across (2, 3): two directions square to the axis and to each other
    radii_mm: of each bore; low_mm, high_mm: where each starts and ends along the axis from `point` [mm]
    hollow_mm: how much wider its middle is than its ends, near nothing for a bore and much for a ball [mm]
    rms_mm: of the points that belong; share: how many of the points offered do; turn: how much of its turn is seen
    covariance (4, 4): of the axis's shift [mm] and tilt [rad], each along the two directions across
    """

    point: Array
    axis: Array
    across: Array
    radii_mm: tuple[float, ...]
    low_mm: tuple[float, ...]
    high_mm: tuple[float, ...]
    rms_mm: float
    share: float
    turn: float
    hollow_mm: float
    covariance: Array

    def give_mm(self, point: Array, direction: Array) -> float:
        """How far the axis may be off beside a point (3,) [mm] in a direction (3,) square to it, 2-sigma [mm]."""
        along = float((point - self.point) @ self.axis)
        lever = np.concatenate([self.across @ direction, along * (self.across @ direction)])
        return 2 * float(np.sqrt(max(lever @ self.covariance @ lever, 0.0)))

    def tilt_give(self) -> float:
        """How far the axis may lean, 2-sigma, the worse way [rad]."""
        return 2 * float(np.sqrt(np.linalg.eigvalsh(self.covariance[2:, 2:]).max()))


@dataclass(frozen=True, eq=False)
class Plane:
    """A face: a point (3,) [mm], its normal (3,); rms_mm and share as for a cylinder; give_mm: 2-sigma there [mm].

    tilt_give: how far it may lean, 2-sigma, the worse way [rad].
    """

    point: Array
    normal: Array
    rms_mm: float
    share: float
    give_mm: float
    tilt_give: float


def across_of(axis: Array) -> Array:
    """Two directions (2, 3) square to an axis (3,) [-] and to each other."""
    first = np.cross(axis, np.eye(3)[np.abs(axis).argmin()])
    first /= np.linalg.norm(first)
    return np.stack([first, np.cross(axis, first)])


def fit_cylinder(
    points: Array, *, point: Array, axis: Array, radii_mm: tuple[float, ...], bore: NDArray[np.intp] | None = None
) -> Cylinder:
    """The common axis of the bores that points (n, 3) [mm] lie on; start from `point`, `axis` and radii [mm].

    bore (n,) [-]: which radius a point belongs to; None: all to the one there is.
    """
    bore = np.zeros(len(points), np.intp) if bore is None else bore
    radii = np.array(radii_mm)
    sigma, weight = np.inf, np.ones(len(points))
    normal, residual = np.eye(4 + len(radii)), np.zeros(len(points))
    for _ in range(_ROUNDS):
        across = across_of(axis)
        away = points - point
        along, flat = away @ axis, away @ across.T
        out = np.hypot(*flat.T)
        residual = out - radii[bore]
        sigma, weight = _weights(residual, sigma)
        toward = flat / np.maximum(out, 1e-9)[:, None]
        slopes = np.concatenate(
            [-toward, -along[:, None] * toward, -1.0 * (bore[:, None] == np.arange(len(radii)))], axis=1
        )
        normal = (slopes * weight[:, None]).T @ slopes
        step = -np.linalg.lstsq(normal, (slopes * weight[:, None]).T @ residual, rcond=None)[0]
        point = point + step[:2] @ across
        axis = axis + step[2:4] @ across
        axis /= np.linalg.norm(axis)
        radii = radii + step[4:]
        if np.abs(step[:2]).max() < 1e-7 and np.abs(step[2:4]).max() < 1e-9:
            break
    across = across_of(axis)
    away = points - point
    along, turn = away @ axis, np.arctan2(*(away @ across.T).T)
    used = weight > 0
    ends = [_extent(along[used & (bore == each)]) for each in range(len(radii))]
    covariance: Array = np.linalg.pinv(normal).astype(float)[:4, :4] * _inflated(weight, residual)
    return Cylinder(
        point=point,
        axis=axis,
        across=across,
        radii_mm=tuple(float(r) for r in radii),
        low_mm=tuple(low for low, _ in ends),
        high_mm=tuple(high for _, high in ends),
        rms_mm=_rms(weight, residual),
        share=float(used.mean()),
        turn=min(seen_turn(turn[used & (bore == each)]) for each in range(len(radii))),
        hollow_mm=_hollow(along[used], residual[used]),
        covariance=covariance,
    )


def fit_plane(points: Array, *, point: Array, normal: Array) -> Plane:
    """The plane of points (n, 3) [mm], at the line through a first point (3,) [mm] along a first normal (3,) [-]."""
    start, first = point, normal
    across = across_of(first)
    away = points - start
    flat, height = away @ across.T, away @ first
    slopes = np.column_stack([np.ones(len(points)), flat])
    sigma, weight, found = np.inf, np.ones(len(points)), np.zeros(3)
    residual = height
    for _ in range(_ROUNDS):
        residual = height - slopes @ found
        sigma, weight = _weights(residual, sigma)
        matrix = (slopes * weight[:, None]).T @ slopes
        step = np.linalg.lstsq(matrix, (slopes * weight[:, None]).T @ residual, rcond=None)[0]
        found = found + step
        if np.abs(step).max() < 1e-9:
            break
    covariance = np.linalg.pinv((slopes * weight[:, None]).T @ slopes) * _inflated(weight, residual)
    lean = first - found[1:] @ across
    return Plane(
        point=start + found[0] * first,
        normal=lean / np.linalg.norm(lean),
        rms_mm=_rms(weight, residual),
        share=float((weight > 0).mean()),
        give_mm=2 * float(np.sqrt(max(covariance[0, 0], 0.0))),
        tilt_give=2 * float(np.sqrt(max(np.linalg.eigvalsh(covariance[1:, 1:]).max(), 0.0))),
    )


def seen_turn(angle: Array) -> float:
    """How much of a full turn has points, by steps of 15 degrees [-]; angle (n,) [rad]."""
    step = np.floor(np.remainder(angle, 2 * np.pi) / (2 * np.pi) * 24).astype(np.intp) % 24
    counts = np.bincount(step, minlength=24)
    return float((counts > 0.05 * max(counts.max(), 1)).mean())


def _hollow(along: Array, residual: Array) -> float:
    """Mean residual of the middle third along the axis less that of the two outer thirds [mm]."""
    if len(along) < 12:
        return 0.0
    low, high = np.quantile(along, [0.01, 0.99])
    middle = np.abs(along - (low + high) / 2) < (high - low) / 6
    return float(residual[middle].mean() - residual[~middle].mean()) if middle.any() and not middle.all() else 0.0


def _weights(residual: Array, sigma: float) -> tuple[float, Array]:
    """A scale that never grows from round to round, and Tukey's weights for it."""
    sigma = min(sigma, max(_MAD * float(np.median(np.abs(residual))), _LEAST_SIGMA_MM))
    share = np.clip(residual / (_TUKEY * sigma), -1.0, 1.0)
    weight: Array = (1 - share**2) ** 2
    return sigma, weight


def _rms(weight: Array, residual: Array) -> float:
    used = weight > 0
    return float(np.sqrt((residual[used] ** 2).mean())) if used.any() else float("inf")


def _inflated(weight: Array, residual: Array) -> float:
    """Variance of a point [mm2], times how many points there are for each that counts as independent."""
    used = int((weight > 0).sum())
    return _rms(weight, residual) ** 2 * max(used / INDEPENDENT, 1.0)


def _extent(along: Array) -> tuple[float, float]:
    """Where the points of a bore start and end, a few strays left out."""
    if not len(along):
        return 0.0, 0.0
    low, high = np.quantile(along, [0.005, 0.995])
    return float(low), float(high)
