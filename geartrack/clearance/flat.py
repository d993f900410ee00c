"""Flat triangles in the meridian half-plane against many sections: how near they come, how deep they lie.

Apart, two polygons are nearest at a corner of one of them, which is exact at once. In contact the depth of a triangle
is bounded from below by half-planes, as in geartrack.clearance.bounds but in the plane, where they are exact; what they
leave open is cut smaller.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from geartrack.clearance.bounds import SLACK_MM
from geartrack.clearance.outlines import Index, Outlines
from geartrack.clearance.pyramid import firsts
from geartrack.frame import Array

_NEXT = (1, 2, 0)
_MOST = 200_000  # triangles in contact at a time; past this their bounds come back wider, still certified
_BLOCK = 4_096  # triangles worked on at a time
_ROUNDS = 24  # cuttings: each halves a triangle's size


def apart(view: Outlines, rows: Index, r: Array, z: Array, reach: Array) -> tuple[Array, Any]:
    """Least signed distance found (p,) [mm] of triangles (3, p) in (r, z) [mm], and whether they touch their section.

    Exact where they do not touch; else the least at their corners. r, z: (3, p) [mm]; reach: (p,) no two points of one
    lie further apart [mm].
    """
    f = np.stack([view.signed(rows, r[i], z[i]) for i in range(3)])
    corners = sorted({*view.near, *((each + 1) % len(view.edges) for each in view.near)})
    away2 = np.full(len(rows), np.inf)
    for i, j in enumerate(_NEXT):
        sr, sz = r[j] - r[i], z[j] - z[i]
        inverse = 1 / np.maximum(sr * sr + sz * sz, np.finfo(float).tiny)
        for corner in corners:
            wr, wz = view.edges[corner][0].take(rows) - r[i], view.edges[corner][1].take(rows) - z[i]
            along = np.clip((wr * sr + wz * sz) * inverse, 0, 1)
            wr -= along * sr
            wz -= along * sz
            np.minimum(away2, wr * wr + wz * wz, out=away2)
    least = f.min(axis=0)
    touching = least <= 0
    doubtful = np.flatnonzero(~touching & (f.max(axis=0) <= reach))
    touching[doubtful] = _crosses(view, rows[doubtful], r[:, doubtful], z[:, doubtful])
    return np.where(touching, least, np.minimum(least, np.sqrt(away2))), touching


def _crosses(view: Outlines, rows: Index, r: Array, z: Array) -> Any:
    """Whether a side of a triangle (3, p) meets one of the edges."""
    found = np.zeros(len(rows), bool)
    for each in view.near:
        ar, az, _, er, ez, _ = (column.take(rows) for column in view.edges[each])
        side = [er * (z[i] - az) - ez * (r[i] - ar) for i in range(3)]
        for i, j in enumerate(_NEXT):
            sr, sz = r[j] - r[i], z[j] - z[i]
            start = sr * (az - z[i]) - sz * (ar - r[i])
            end = start + sr * ez - sz * er
            found |= (side[i] * side[j] <= 0) & (start * end <= 0)
    return found


def deepest(view: Outlines, rows: Index, r: Array, z: Array, best: Array, tolerance_mm: float) -> tuple[Index, Array]:
    """Lower bounds [mm] of triangles (3, p) that touch their sections, cut where need be: rows (q,) and bounds (q,).

    r, z: (3, p) of the corners [mm]. best: (n,) the least distance known for each row [mm], improved here; nothing that
    matters lies further under it than the tolerance, unless too many triangles stay open.
    """
    settled: list[tuple[Index, Array]] = []
    for turn in range(_ROUNDS):
        lower, f = lower_bounds(view, rows, r, z)
        np.minimum.at(best, rows, f)
        open_ = lower < best[rows] - tolerance_mm
        if turn == _ROUNDS - 1 or np.count_nonzero(open_) > _MOST:
            open_[:] = False
        settled.append((rows[~open_], lower[~open_]))
        if not open_.any():
            break
        rows, r, z = _quartered(rows[open_], r[:, open_], z[:, open_])
    return np.concatenate([rows for rows, _ in settled]), np.concatenate([lower for _, lower in settled])


def lower_bounds(view: Outlines, rows: Index, r: Array, z: Array) -> tuple[Array, Array]:
    """Lower bound (p,) of the signed distance over triangles, and a value it has there, about the least [mm].

    r, z: (3, p) of the corners [mm].
    """
    blocks = [slice(start, start + _BLOCK) for start in range(0, len(rows), _BLOCK)]
    found = [_lower_bounds(view, rows[block], r[:, block], z[:, block]) for block in blocks]
    return np.concatenate([lower for lower, _ in found]), np.concatenate([f for _, f in found])


def _quartered(rows: Index, r: Array, z: Array) -> tuple[Index, Array, Array]:
    """Each triangle in four, its sides halved; the four stay together."""

    def cut(a: Array) -> Array:
        m = (a + a[list(_NEXT)]) / 2  # middles of the sides from corner i to the next
        four = [[a[0], m[0], m[2]], [m[0], a[1], m[1]], [m[2], m[1], a[2]], [m[0], m[1], m[2]]]
        return np.array(four).transpose(1, 2, 0).reshape(3, -1)

    return np.repeat(rows, 4), cut(r), cut(z)


def _lower_bounds(view: Outlines, rows: Index, r: Array, z: Array) -> tuple[Array, Array]:
    p = len(rows)
    f, normal_r, normal_z, free = (
        a.reshape(3, p) for a in _half_planes(view, np.tile(rows, 3), r.reshape(-1), z.reshape(-1))
    )
    dr, dz = r[None] - r[:, None], z[None] - z[:, None]  # [from, to, triangle]
    reach = np.hypot(dr, dz).max(axis=1)
    planes = f[:, None] + normal_r[:, None] * dr + normal_z[:, None] * dz
    planes = np.where((free < np.abs(f) + 2 * reach)[:, None], (f - reach)[:, None], planes)
    least, at = _least_of_larger(planes)
    deep = f.min(axis=0)
    creased = np.flatnonzero(at.max(axis=0) < 1)  # where two planes cross on a side
    deep_r, deep_z = ((corner[:, creased] * at[:, creased]).sum(axis=0) for corner in (r, z))
    deep[creased] = np.minimum(deep[creased], view.signed(rows[creased], deep_r, deep_z))
    return np.maximum((f - reach).max(axis=0), least) - SLACK_MM, deep


def _least_of_larger(planes: Array) -> tuple[Array, Array]:
    """Least value (p,) over triangles of the larger of two of three functions, the best two; and its place.

    planes: (3, 3, p), each linear and given at the corners [function, corner, triangle]. Place: weights of the corners
    (3, p).
    """
    a, b = planes, planes[list(_NEXT)]
    d = a - b
    after = d[:, list(_NEXT)]
    crosses = (d > 0) != (after > 0)
    part = d / np.where(crosses, d - after, 1.0)
    crossing = np.where(crosses, a + part * (a[:, list(_NEXT)] - a), np.inf)
    values = np.concatenate([np.maximum(a, b), crossing], axis=1)  # [pair, corner or side, triangle]
    triangle = np.arange(planes.shape[-1])
    pair = values.min(axis=1).argmax(axis=0)
    where = values[pair, :, triangle].argmin(axis=1)
    side, along = where % 3, np.where(where < 3, 0.0, part[pair, where % 3, triangle])
    at = np.zeros((3, len(triangle)))
    at[side, triangle] = 1 - along
    at[(side + 1) % 3, triangle] += along
    return values[pair, where, triangle], at


def _half_planes(view: Outlines, rows: Index, r: Array, z: Array) -> tuple[Array, Array, Array, Array]:
    """For points (p,): f, the unit normal of the half-plane at the foot (r, z), and `free`, as bounds._half_planes."""
    f = view.signed(rows, r, z)
    best = np.full(len(r), np.inf)
    foot_r, foot_z, normal_r, normal_z = (np.zeros(len(r)) for _ in range(4))
    corner = np.zeros(len(r), bool)
    for edge in (view.edges[each] for each in view.near):
        ar, az, _, er, ez, inverse = (column.take(rows) for column in edge)
        along = np.clip(((r - ar) * er + (z - az) * ez) * inverse, 0, 1)
        at_r, at_z = ar + along * er, az + along * ez
        away2 = np.where(inverse > 0, (r - at_r) ** 2 + (z - at_z) ** 2, np.inf)
        nearer = away2 < best
        length = np.sqrt(inverse)
        for into, value in (
            (best, away2),
            (foot_r, at_r),
            (foot_z, at_z),
            (normal_r, ez * length),
            (normal_z, -er * length),
            (corner, (along == 0) | (along == 1)),
        ):
            np.copyto(into, value, where=nearer)
    corner &= np.abs(f) > SLACK_MM
    safe = np.where(corner, f, 1.0)
    normal_r = np.where(corner, (r - foot_r) / safe, normal_r)
    normal_z = np.where(corner, (z - foot_z) / safe, normal_z)
    return f, normal_r, normal_z, _nearest_beyond(view, rows, (r, z), (foot_r, foot_z), (normal_r, normal_z))


def _nearest_beyond(
    view: Outlines, rows: Index, point: tuple[Array, Array], foot: tuple[Array, Array], normal: tuple[Array, Array]
) -> Array:
    """Distance of each point (p,) to the part of its outline that lies beyond its half-plane; inf where none does."""
    best = np.full(len(rows), np.inf)
    for edge, side in ((edge, side) for edge in view.surface for side in (1.0, -1.0)):
        ar, az, _, er, ez, inverse = (column.take(rows) for column in view.edges[edge])
        if side < 0:  # the mirror image in the axis matters where a section reaches the axis
            if (ar > 0).all() and (ar + er > 0).all():
                continue
            ar, er = -ar, -er
        start = (ar - foot[0]) * normal[0] + (az - foot[1]) * normal[1]
        rise = er * normal[0] + ez * normal[1]
        beyond = (np.maximum(start, start + rise) > SLACK_MM) & (inverse > 0)
        if not beyond.any():
            continue
        crossing = -start / np.where(rise == 0, 1.0, rise)
        first = np.where(start > SLACK_MM, 0.0, crossing)
        last = np.where(start + rise > SLACK_MM, 1.0, crossing)
        along = np.clip(((point[0] - ar) * er + (point[1] - az) * ez) * inverse, first, last)
        away = np.hypot(point[0] - ar - along * er, point[1] - az - along * ez)
        np.minimum(best, np.where(beyond, away, np.inf), out=best)
    return best


def least_by_row(rows: Index, values: Array, into: Array) -> None:
    """Lower into (n,) [mm] at each row to the least of its values (p,) [mm]; rows in rising order."""
    if len(rows):
        start = firsts(rows)
        into[rows[start]] = np.minimum(into[rows[start]], np.minimum.reduceat(values, start))
