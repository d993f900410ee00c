"""The pilot bore's axis and the ring axis together: where they come nearest, and which way the offset lies."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from geartrack.boss.scan.datums import Datums
from geartrack.frame import Array

NO_OFFSET_MM = 1.0  # a lesser offset has no direction that a scan could tell


@dataclass(frozen=True, eq=False)
class Axes:
    """Where the two axes come nearest: on_pinion, on_ring (3,) [mm].

    ring_way (3,): the ring axis's direction made square to the bore's; skew: how far from square the axes are [rad].
    """

    on_pinion: Array
    on_ring: Array
    ring_way: Array
    skew: float


def axes_of(datums: Datums) -> Axes | None:
    """Both axes; None where the ring's is not in the scan."""
    if datums.ring is None:
        return None
    bore, ring = datums.bore, datums.ring
    square = ring.axis - (ring.axis @ bore.axis) * bore.axis
    between = bore.point - ring.point
    dot = float(bore.axis @ ring.axis)
    at = np.linalg.solve([[1.0, -dot], [dot, -1.0]], [-float(between @ bore.axis), -float(between @ ring.axis)])
    return Axes(
        bore.point + at[0] * bore.axis,
        ring.point + at[1] * ring.axis,
        square / np.linalg.norm(square),
        math.asin(min(abs(dot), 1.0)),
    )


def offset_way(axes: Axes) -> Array | None:
    """From the ring axis to the pinion's, of length 1; None where the offset is none to speak of."""
    way = axes.on_pinion - axes.on_ring
    size = float(np.linalg.norm(way))
    return way / size if size > NO_OFFSET_MM else None
