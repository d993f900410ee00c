"""A scan as it is drawn: some of its points in the boss frame, and which datum each lies on."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from geartrack.boss.scan.axes import axes_of
from geartrack.boss.scan.fits import Cylinder, Plane, across_of
from geartrack.boss.scan.pose import Registration
from geartrack.frame import Array

_MOST, _SEED = 30_000, 20261125
_NEAR_MM, _FACE_OUT, _SUPPORT_OUT_MM = 0.25, 2.2, 110.0

Mask = NDArray[np.bool_]


@dataclass(frozen=True, eq=False)
class Shown:
    """Points (n, 3) of a scan in the boss frame [mm]; on: for each datum found which of them lie on it, (n,).

    framed: whether that is the axle's own frame; else only the bore's axis is right, and what else is known of it.
    ring (3,): a point of the ring axis there, None where it is not in the scan [mm].
    """

    points: Array
    on: Mapping[str, Mask]
    framed: bool
    ring: Array | None


def shown(found: Registration, vertices: Array) -> Shown:
    """Some of a scan's vertices (n, 3) [mm], and what they lie on."""
    rotation, origin = _standing(found)
    rng = np.random.default_rng(_SEED)
    some = vertices if len(vertices) <= _MOST else vertices[rng.choice(len(vertices), _MOST, replace=False)]
    datums, axes = found.datums, axes_of(found.datums)
    on = {"bore": _on_cylinder(some, datums.bore)}
    if found.end is not None:
        on["end face"] = _on_face(some, found.end, datums.bore, _FACE_OUT * datums.bore.radii_mm[0])
    if datums.ring is not None:
        on["ring axis"] = _on_cylinder(some, datums.ring)
    if found.support is not None:
        on["support face"] = _on_face(some, found.support.plane, datums.bore, _SUPPORT_OUT_MM)
    ring = None if axes is None else (axes.on_ring - origin) @ rotation.T
    return Shown((some - origin) @ rotation.T, on, found.pose is not None, ring)


def _standing(found: Registration) -> tuple[Array, Array]:
    """Rows of a frame (3, 3) and its origin (3,) [mm]: the boss's, or one about the bore as far as it is known."""
    if found.pose is not None:
        return found.pose.rotation, found.pose.origin
    datums, axes = found.datums, axes_of(found.datums)
    x = -datums.bore.axis if found.end is not None and found.end is datums.ends[0] else datums.bore.axis
    z = across_of(x)[0] if axes is None else axes.ring_way
    along = datums.bore.high_mm[0] if float(x @ datums.bore.axis) > 0 else datums.bore.low_mm[0]
    return np.stack([x, np.cross(z, x), z]), datums.bore.point + along * datums.bore.axis


def _on_cylinder(points: Array, bores: Cylinder) -> Mask:
    away = points - bores.point
    along = away @ bores.axis
    out = np.linalg.norm(away - along[:, None] * bores.axis, axis=1)
    on = np.zeros(len(points), bool)
    for radius, low, high in zip(bores.radii_mm, bores.low_mm, bores.high_mm, strict=True):
        on |= (np.abs(out - radius) < _NEAR_MM) & (along > low - _NEAR_MM) & (along < high + _NEAR_MM)
    return on


def _on_face(points: Array, face: Plane, bore: Cylinder, reach_mm: float) -> Mask:
    away = points - bore.point
    out = np.linalg.norm(away - (away @ bore.axis)[:, None] * bore.axis, axis=1)
    on: Mask = (np.abs((points - face.point) @ face.normal) < _NEAR_MM) & (out < reach_mm)
    return on
