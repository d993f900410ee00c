"""Flat faces square to the bore: those across its ends, and the one that the pinion support bolts to."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from geartrack.boss.scan.fits import Cylinder, Plane, fit_plane, seen_turn
from geartrack.boss.scan.scene import ENOUGH, Scene
from geartrack.frame import Array

ROUND = 1.45
"""A boss's outside over its bore, about; from memory."""

_END_MM, _FACE_MM, _FEWEST = 6.0, 0.4, 12
_PICKED_MM, _WIDER = 0.6, 1.3  # a face as picked: its points lie so near, and no further out than so many times
_BEYOND_MM, _REACH_MM = 15.0, 110.0  # support's face: beyond the end face, and from the bore's axis; from memory
_STEP_MM, _OF_MOST, _LEAST_POINTS = 0.4, 0.25, 30
_LEAST_TURN, _LEAST_WIDE_MM, _MOST_LEAN, _MOST_RMS_MM = 0.5, 4.0, math.radians(2.0), 0.3


@dataclass(frozen=True, eq=False)
class SupportFace:
    """The face that the pinion support bolts to.

    beyond_mm: along the bore's axis from the boss's pinion-side end face, and its give or take, 2-sigma [mm].
    turn: how much of its turn is seen [-]; lean: against square to the bore, and its give or take, 2-sigma [rad].
    moves_mm: how far the boss's edge stands off where it was taken to be, if the pinion goes through the bore's middle
    but square to this face, and give or take, 2-sigma [mm].
    """

    plane: Plane
    beyond_mm: tuple[float, float]
    turn: float
    lean: tuple[float, float]
    moves_mm: tuple[float, float]


def end_face(seen: Scene, bore: Cylinder, end_mm: float, *, picked: Array | None = None) -> Plane | None:
    """The face across one end of the bore, the flat round its mouth that most of the surface lies on.

    end_mm: where that end is along the bore [mm]; picked (k, 3) [mm]: points picked on the face.
    """
    if picked is not None:
        return _as_picked(seen, bore, picked)
    radius = bore.radii_mm[0]
    flat = seen.patches
    along, out = _along_and_out(flat.centres, bore)
    level = (np.abs(flat.normals @ bore.axis) > 0.97) & (np.abs(along - end_mm) < _END_MM)
    level &= (out > radius + 0.3) & (out < 2.2 * radius)
    if level.sum() < 4:
        return None
    height, weight = along[level], flat.weight[level]
    within = np.abs(height[:, None] - height) < _FACE_MM
    best = int((within @ weight).argmax())
    at = float(np.median(height[within[best]]))
    for points in (seen.points, seen.vertices):
        near = points[np.abs((points - bore.point) @ bore.axis - at) < _FACE_MM]
        out = _along_and_out(near, bore)[1]
        chosen = near[(out > radius + 0.3) & (out < 2.2 * radius)]
        if len(chosen) >= ENOUGH:
            break
    if len(chosen) < _FEWEST:
        return None
    return fit_plane(chosen, point=bore.point + at * bore.axis, normal=bore.axis)


def closed_end(seen: Scene, bore: Cylinder) -> str | None:
    """Which end of the bore is closed, if one is: a flat across its middle."""
    along, out = _along_and_out(seen.patches.centres, bore)
    across = (np.abs(seen.patches.normals @ bore.axis) > 0.9) & (out < 0.8 * bore.radii_mm[0])
    closed = [
        float(seen.patches.weight[across & (np.abs(along - end) < _END_MM)].sum())
        for end in (bore.low_mm[0], bore.high_mm[0])
    ]
    if max(closed) <= 4 * min(closed) or not max(closed) > 0:
        return None
    return "low" if closed[0] > closed[1] else "high"


def support_face(
    seen: Scene, bore: Cylinder, end: Plane, way: Array, *, along_mm: float, picked: Array | None = None
) -> SupportFace | None:
    """The face that the pinion support bolts to: the furthest flat square to the bore that goes round it.

    end: the boss's pinion-side end face; way (3,): the bore's axis toward the pinion head; along_mm: what the end
    face's place may be off by [mm]; picked (k, 3) [mm]: points picked on the face. None where it is not in the scan.
    """
    plane = _furthest(seen, bore, end, way) if picked is None else _as_picked(seen, bore, picked)
    if plane is None:
        return None
    beyond = float((_crossing(plane, bore) - _crossing(end, bore)) @ way)
    near = _near_plane(seen, plane, _FACE_MM)
    around = np.arctan2(*((near - bore.point) @ bore.across.T).T)
    lean = math.asin(min(1.0, float(np.linalg.norm(np.cross(plane.normal, bore.axis)))))
    give = math.hypot(plane.tilt_give, bore.tilt_give())
    lever = math.hypot((bore.high_mm[0] - bore.low_mm[0]) / 2, ROUND * bore.radii_mm[0])
    place = beyond, math.hypot(plane.give_mm, along_mm)
    return SupportFace(plane, place, seen_turn(around), (lean, give), (lever * lean, lever * give))


def _furthest(seen: Scene, bore: Cylinder, end: Plane, way: Array) -> Plane | None:
    """Of the heights beyond the end face where many points lie, the furthest that is a flat all round."""
    start = _crossing(end, bore)
    for points in (seen.points, seen.vertices):
        height, out = (points - start) @ way, _along_and_out(points, bore)[1]
        chosen = (height > _BEYOND_MM) & (out < _REACH_MM)
        points, height = points[chosen], height[chosen]
        if len(points) >= ENOUGH:
            break
    if len(points) < _LEAST_POINTS:
        return None
    counts = np.bincount(np.floor(height / _STEP_MM).astype(np.intp) + 1)
    counts = counts + np.roll(counts, -1)
    for step in np.flatnonzero(counts >= max(_OF_MOST * counts.max(), _LEAST_POINTS))[::-1]:
        near = points[np.abs(height - step * _STEP_MM) <= _STEP_MM]
        plane = _flat_all_round(seen, near, bore, start + step * _STEP_MM * way)
        if plane is not None:
            return plane
    return None


def _flat_all_round(seen: Scene, near: Array, bore: Cylinder, at: Array) -> Plane | None:
    """A plane through points near a height, if they are flat, go round the bore and are no mere edge."""
    plane = fit_plane(near, point=at, normal=bore.axis)
    near = _near_plane(seen, plane, _FACE_MM)
    out = _along_and_out(near, bore)[1]
    near, out = near[out < _REACH_MM], out[out < _REACH_MM]
    if len(near) < _LEAST_POINTS:
        return None
    plane = fit_plane(near, point=plane.point, normal=plane.normal)
    wide = float(np.subtract(*np.quantile(out, [0.95, 0.05])))
    turn = seen_turn(np.arctan2(*((near - bore.point) @ bore.across.T).T))
    lean = math.asin(min(1.0, float(np.linalg.norm(np.cross(plane.normal, bore.axis)))))
    good = wide > _LEAST_WIDE_MM and turn >= _LEAST_TURN and lean < _MOST_LEAN and plane.rms_mm < _MOST_RMS_MM
    return plane if good else None


def _as_picked(seen: Scene, bore: Cylinder, picked: Array) -> Plane | None:
    """A plane through the scan's points about those picked on a face; None where there are too few."""
    middle = picked.mean(axis=0)
    normal = np.linalg.svd(picked - middle)[2][2]
    normal = normal if float(normal @ bore.axis) > 0 else -normal
    widest = _WIDER * float(_along_and_out(picked, bore)[1].max())
    plane = Plane(middle, normal, 0.0, 0.0, 0.0, 0.0)
    for _ in range(2):
        near = _near_plane(seen, plane, _PICKED_MM)
        near = near[_along_and_out(near, bore)[1] < widest]
        if len(near) < _FEWEST:
            return None
        plane = fit_plane(near, point=_crossing(plane, bore), normal=plane.normal)
    return plane


def _near_plane(seen: Scene, plane: Plane, within_mm: float) -> Array:
    """The scan's points within so much of a plane (k, 3) [mm]."""
    for points in (seen.points, seen.vertices):
        near: Array = points[np.abs((points - plane.point) @ plane.normal) < within_mm]
        if len(near) >= ENOUGH:
            break
    return near


def _crossing(plane: Plane, bore: Cylinder) -> Array:
    """Where the bore's axis goes through a plane (3,) [mm]."""
    along = float((plane.point - bore.point) @ plane.normal) / float(bore.axis @ plane.normal)
    where: Array = bore.point + along * bore.axis
    return where


def _along_and_out(points: Array, bore: Cylinder) -> tuple[Array, Array]:
    """Of points (n, 3) [mm]: how far along the bore's axis from its point, and how far out from it, (n,) [mm]."""
    away = points - bore.point
    along = away @ bore.axis
    return along, np.sqrt(np.maximum(np.einsum("ij,ij->i", away, away) - along**2, 0.0))
