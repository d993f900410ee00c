"""The volume that mesh and grown sweep have in common, slice by slice across the ring axis."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from geartrack.frame import Array
from geartrack.relief.sweep_field import GrownSweep
from geartrack.relief.triangles import Index, counted, normals

_NEAR_END = 1e-3  # places a little in from a panel's ends: at a triangle's tip there is no length to judge by
_PLACES = np.array([_NEAR_END, 0.5, 1 - _NEAR_END])
_END_WEIGHT = 1 / (6 * (1 - 2 * _NEAR_END) ** 2)  # makes the three places exact to degree 3, as in Simpson's rule
_PANELS = 64  # over the height of all triangles: so that no part of the patch hides between two places
_ROUNDS = 30
_SPECK_MM3 = 1e-9  # less than this is rounding
_SAFETY = 8.0  # two rules may agree by luck: of 2,000 cuts tried, the worst was off by three times their difference


def common_volume(corners: Array, sweep: GrownSweep, low: Array, high: Array, share: float) -> tuple[float, float]:
    """Volume [mm3] inside both the grown sweep and a closed mesh, and what it may be off by.

    corners: (m, 3, 3) of the mesh's triangles, wound outward, axle frame, at least all that reach the sweep or lie
    behind it as seen from the ring axis [mm]. low, high: (m,) heights between which each does so [mm].
    share: of the volume, the error that is worth no more work [-].

    The flux through the mesh of the radial field of DESIGN 4, whose divergence is 1 inside the sweep and 0 outside. A
    level plane cuts a triangle in a segment, along which that flux is known in closed form: the area between segment
    and axis that lies in the sweep's rings. What is left to quadrature is one integral over height for each triangle.
    """
    halves = _halves(corners, low, high)
    owner, low, high = _panels(halves)
    value, error, _ = _integral(halves, sweep, owner, low, high)
    for _ in range(_ROUNDS):
        allowed = max(share * abs(float(value.sum())), _SPECK_MM3)
        if _SAFETY * error.sum() <= allowed:
            break
        split = error > allowed / (2 * _SAFETY * len(error))
        middle = (low + high)[split] / 2
        new = np.tile(owner[split], 2), np.append(low[split], middle), np.append(middle, high[split])
        halved, differs, whole = _integral(halves, sweep, *new)
        change = np.tile(np.abs(halved.reshape(2, -1).sum(axis=0) - value[split]) / 2, 2)
        differs = np.where(whole, change, differs)
        owner, low, high, value, error = (
            np.append(old[~split], added)
            for old, added in zip((owner, low, high, value, error), (*new, halved, differs), strict=True)
        )
    return max(float(value.sum()), 0.0), _SAFETY * float(error.sum())


@dataclass(frozen=True, eq=False)
class _Halves:
    """Triangles cut at the height of their middle corner: each cut by level planes in a segment, from p to q.

    low, high: (h,) [mm]; start, slope: (2, h, 2), p and q in (x, y) at z = 0, and their change with height.
    sign: (h,) +1 where the metal lies to the left of p -> q.
    """

    low: Array
    high: Array
    start: Array
    slope: Array
    sign: Array


def _halves(corners: Array, low: Array, high: Array) -> _Halves:
    normal = normals(corners)
    order = np.argsort(corners[..., 2], axis=1)
    c = np.take_along_axis(corners, order[..., None], axis=1)
    lower = np.stack([c[:, [0, 0]], c[:, [0, 1]]])  # (p or q, triangle, half, 3)
    upper = np.stack([c[:, [2, 2]], c[:, [1, 2]]])
    rise = upper[..., 2] - lower[..., 2]
    slope = (upper - lower)[..., :2] / np.where(rise > 0, rise, 1.0)[..., None]
    start = lower[..., :2] - slope * lower[..., 2:]
    bottom, top = lower[1, ..., 2], upper[1, ..., 2]
    p, q = start + slope * (bottom + top)[..., None] / 2
    sign = np.sign(normal[:, None, 0] * (q - p)[..., 1] - normal[:, None, 1] * (q - p)[..., 0])
    bottom, top = np.maximum(bottom, low[:, None]), np.minimum(top, high[:, None])
    keep = (top > bottom) & (sign != 0)
    return _Halves(bottom[keep], top[keep], start[:, keep], slope[:, keep], sign[keep])


def _panels(halves: _Halves) -> tuple[Index, Array, Array]:
    """The halves cut by height so that none spans more than a part of all their range: owner, low, high, each (k,)."""
    span = halves.high - halves.low
    whole = np.ptp(np.append(halves.high, halves.low)) if len(span) else 0.0
    count = np.ceil(span / whole * _PANELS).astype(np.intp)
    owner, part = counted(np.zeros_like(count), count)
    step = (span / count)[owner]
    return owner, halves.low[owner] + part * step, halves.low[owner] + (part + 1) * step


def _integral(
    halves: _Halves, sweep: GrownSweep, owner: Index, low: Array, high: Array
) -> tuple[Array, Array, NDArray[np.bool_]]:
    """Volume behind each panel, (k,) [mm3]; how far it differs by another rule; whether all its places met the sweep.

    The other rule takes the flux per length of segment as linear between the panel's ends; so a panel whose tip alone
    lies in the sweep is not taken for clear.
    """
    z = (low + _PLACES[:, None] * (high - low)).ravel()
    of = np.tile(owner, len(_PLACES))
    p, q = halves.start[:, of] + halves.slope[:, of] * z[:, None]
    furthest = np.sqrt(np.maximum((p**2).sum(axis=1), (q**2).sum(axis=1)))
    area = np.zeros(z.shape)
    for sign, start, end in sweep.rings(z):
        met = np.flatnonzero((end > start) & (start < furthest))
        ring = _within(p[met], q[met], end[met]) - _within(p[met], q[met], start[met])
        area[met] += sign * ring
    flux = (halves.sign[of] * area).reshape(len(_PLACES), -1)
    length = np.hypot(*(q - p).T).reshape(len(_PLACES), -1)
    (m0, _, m1), (l0, _, l1) = flux / np.where(length > 0, length, 1.0), length
    value = _END_WEIGHT * (flux[0] + flux[2]) + (1 - 2 * _END_WEIGHT) * flux[1]
    other = (2 * l0 * m0 + l0 * m1 + l1 * m0 + 2 * l1 * m1) / 6
    return value * (high - low), np.abs(value - other) * (high - low), (flux != 0).all(axis=0)


def _within(p: Array, q: Array, radius: Array) -> Array:
    """Signed area of the triangles (0, p, q), p and q (n, 2), that lies in circles of radius (n,) about 0, (n,) [mm2].

    The part of the side from p to q inside the circle gives a triangle, the parts outside give sectors.
    """
    side = q - p
    a, b = (side**2).sum(axis=1), (p * side).sum(axis=1)
    root = np.sqrt(np.maximum(b**2 - a * ((p**2).sum(axis=1) - radius**2), 0.0))
    a = np.where(a > 0, a, 1.0)
    enter, leave = np.clip((-b - root) / a, 0.0, 1.0), np.clip((-b + root) / a, 0.0, 1.0)
    turn = _angle(p, p + enter[:, None] * side) + _angle(p + leave[:, None] * side, q)
    area: Array = ((leave - enter) * (p[:, 0] * side[:, 1] - p[:, 1] * side[:, 0]) + radius**2 * turn) / 2
    return area


def _angle(u: Array, v: Array) -> Array:
    """Signed angle from u to v, (n,) [rad]."""
    turn: Array = np.arctan2(u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0], (u * v).sum(axis=1))
    return turn
