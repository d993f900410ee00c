"""The one frame of the arithmetic, and the one place where a real part's hand is mirrored in and out (DESIGN 1).

Axle frame: origin O, the foot on the ring axis of the common perpendicular of the two axes; right-handed.
Z along the ring axis toward the ring gear's back face (teeth look toward -Z: a larger z is further from the pinion);
X parallel to the pinion axis toward the pinion head (the pinion-nut side); the pinion axis is y = +E, z = 0.

Boss frame: origin on the pinion axis at the boss's pinion-side end face, axes parallel to X, Y, Z of the *real part*.
A point at station s, radius q, clock angle t (as seen from the pinion-nut end, looking toward -X, clockwise from
straight at the ring gear) is (-s, q sin t, q cos t). Example: station 2, radius 25, clock 90 deg is (-2, 25, 0).
For a pinion below the ring axis (the usual rear axle) real part and arithmetic agree; for one above, Y is mirrored.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


def oclock(clock: float) -> str:
    """A clock angle [rad] as o'clock, to the half hour: 12 is straight at the ring gear, 3 is 90 deg.

    >>> oclock(math.radians(32)), oclock(math.radians(-90)), oclock(math.radians(44))
    ("1 o'clock", "9 o'clock", 'half past 1')
    """
    halves = round(math.degrees(clock) / 15) % 24
    hour = (halves // 2) or 12
    return f"half past {hour}" if halves % 2 else f"{hour} o'clock"


class Hand(StrEnum):
    """Where the pinion lies, seen from the tooth side with the pinion to the right."""

    BELOW = "below"
    ABOVE = "above"

    @property
    def sign(self) -> float:
        """+1 where the real part is the arithmetic's frame, -1 where it is its mirror image in Y."""
        return 1.0 if self is Hand.BELOW else -1.0


@dataclass(frozen=True)
class Seat:
    """Where the boss sits in the axle.

    offset_mm: hypoid offset E >= 0 [mm]; end_face_mm: X_e, distance of the boss's pinion-side end face from the ring
    axis along X [mm]; hand: of the real axle. (y_mm, z_mm): bore axis against the pinion axis, real part's frame [mm].
    """

    offset_mm: float
    end_face_mm: float
    hand: Hand
    y_mm: float = 0.0
    z_mm: float = 0.0

    def to_axle(self, points: Array) -> Array:
        """Boss-frame points (n, 3) [mm] of the real part, as axle-frame points (n, 3) [mm]."""
        x, y, z = np.moveaxis(np.asarray(points, float), -1, 0)
        return np.stack(
            [x + self.end_face_mm, self.hand.sign * (y + self.y_mm) + self.offset_mm, z + self.z_mm], axis=-1
        )

    def to_boss(self, points: Array) -> Array:
        """Axle-frame points (n, 3) [mm] as boss-frame points (n, 3) [mm] of the real part."""
        x, y, z = np.moveaxis(np.asarray(points, float), -1, 0)
        return np.stack(
            [x - self.end_face_mm, self.hand.sign * (y - self.offset_mm) - self.y_mm, z - self.z_mm], axis=-1
        )


def meridian(points: Array) -> Array:
    """Axle-frame points (n, 3) [mm] as (r, z) about the ring axis, (n, 2) [mm]."""
    points = np.asarray(points, float)
    return np.stack([np.hypot(points[..., 0], points[..., 1]), points[..., 2]], axis=-1)


def polar(points: Array) -> tuple[Array, Array, Array]:
    """Boss-frame points (n, 3) [mm] as station s [mm], radius q [mm], clock angle t [rad] in (-pi, pi]."""
    x, y, z = np.moveaxis(np.asarray(points, float), -1, 0)
    return -x, np.hypot(y, z), np.arctan2(y, z)


def from_polar(station: Array, radius: Array, clock: Array) -> Array:
    """Station s [mm], radius q [mm], clock angle t [rad] as boss-frame points (..., 3) [mm].

    >>> from_polar(2.0, 25.0, np.pi / 2).round(6).tolist()
    [-2.0, 25.0, 0.0]
    """
    s, q, t = np.broadcast_arrays(np.asarray(station, float), np.asarray(radius, float), np.asarray(clock, float))
    return np.stack([-s, q * np.sin(t), q * np.cos(t)], axis=-1)
