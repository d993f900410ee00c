"""The grown sweep as a field: how far a point is from it, and how much of a ray from the ring axis lies in it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from geartrack.frame import Array, meridian
from geartrack.section import Section
from geartrack.sweep import signed_distance


@dataclass(frozen=True, eq=False)
class GrownSweep:
    """All points no further than `by_mm` [mm] from what the section sweeps; exact, no arc is ever cut into segments.

    A negative `by_mm` means the points at least that deep inside the sweep.
    """

    section: Section
    by_mm: float

    def distance(self, points: Array) -> Array:
        """Axle-frame points (..., 3) [mm] to what is at most the distance to the grown sweep, (...) [mm].

        Positive outside, negative inside, zero exactly on its surface, 1-Lipschitz.
        """
        reach: Array = signed_distance(self.section, meridian(points)) - self.by_mm
        return reach

    def bounds(self, top_mm: float) -> tuple[float, float, float]:
        """Least radius of the grown sweep below z = top_mm, and its least and greatest z; or a little outside [mm]."""
        grow, top = max(self.by_mm, 0.0), top_mm + max(self.by_mm, 0.0)
        low_z, high_z = float(self.section.points[:, 1].min()), float(self.section.points[:, 1].max())
        least = np.inf
        for a, b in zip(self.section.points, np.roll(self.section.points, -1, axis=0), strict=True):
            a, b = (a, b) if a[1] <= b[1] else (b, a)
            if a[1] <= top:
                part = min(1.0, (top - a[1]) / (b[1] - a[1])) if b[1] > a[1] else 1.0
                least = min(least, a[0], a[0] + part * (b[0] - a[0]), b[0] if part == 1.0 else np.inf)
        return float(least - grow), low_z - grow, high_z + grow

    def rings(self, z: Array) -> list[tuple[float, Array, Array]]:
        """What level planes z (n,) [mm] cut from the grown sweep: rings (sign, inner radius, outer radius), each (n,).

        Rings of the same sign do not overlap, and are to be added or taken off by it; an absent one has equal radii.
        """
        capsules = [_capsule(a, b, abs(self.by_mm), z) for a, b in _sides(self.section, self.by_mm, z)]
        whole = [(1.0, *ring) for ring in _merged([*_chords(self.section, z), *capsules])]
        return whole if self.by_mm >= 0 else whole + [(-1.0, *ring) for ring in _merged(capsules)]


Interval = tuple[Array, Array]


def _sides(section: Section, by_mm: float, z: Array) -> list[tuple[Array, Array]]:
    """The sides that, thickened by `by_mm`, come to the heights z; those along the axis never count."""
    if len(z) == 0 or by_mm == 0:
        return []
    grow, low, high = abs(by_mm), z.min(), z.max()
    pairs = zip(section.points, np.roll(section.points, -1, axis=0), strict=True)
    reaching = [(a, b) for a, b in pairs if min(a[1], b[1]) - grow < high and max(a[1], b[1]) + grow > low]
    return [(a, b) for a, b in reaching if max(a[0], b[0]) > 0]


def _chords(section: Section, z: Array) -> list[Interval]:
    """Where lines of constant z lie in the polygon: intervals of r, each (n,); an empty one is (0, 0)."""
    a, b = section.points[:, None, :], np.roll(section.points, -1, axis=0)[:, None, :]
    crosses = (z >= a[..., 1]) != (z >= b[..., 1])
    rise = np.where(a[..., 1] == b[..., 1], 1.0, b[..., 1] - a[..., 1])
    at = np.where(crosses, a[..., 0] + (z - a[..., 1]) / rise * (b[..., 0] - a[..., 0]), np.inf)
    most = int(crosses.sum(axis=0).max(initial=0))
    at = np.sort(at, axis=0)[:most]
    at[~np.isfinite(at)] = 0.0
    return [(at[i], at[i + 1]) for i in range(0, most, 2)]


def _capsule(a: Array, b: Array, by_mm: float, z: Array) -> Interval:
    """Where lines of constant z lie within `by_mm` of the side from a to b: intervals of r; an empty one is (0, 0)."""
    low, high = np.full(z.shape, np.inf), np.full(z.shape, -np.inf)
    for end in (a, b):
        half = by_mm**2 - (z - end[1]) ** 2
        half = np.sqrt(half, out=np.full(z.shape, -np.inf), where=half >= 0)
        np.minimum(low, end[0] - half, out=low)
        np.maximum(high, end[0] + half, out=high)
    along = b - a
    if along[1] != 0:
        out = by_mm * np.array([along[1], -along[0]]) * np.sign(along[1]) / np.hypot(*along)
        for shift, bound, widest in ((-out, low, np.minimum), (out, high, np.maximum)):
            part = (z - a[1] - shift[1]) / along[1]
            widest(bound, a[0] + shift[0] + part * along[0], out=bound, where=(part >= 0) & (part <= 1))
    return np.where(low < high, np.maximum(low, 0.0), 0.0), np.where(low < high, np.maximum(high, 0.0), 0.0)


def _merged(intervals: list[Interval]) -> list[Interval]:
    """The union of intervals as intervals that do not overlap, in ascending order; absent ones are empty."""
    if not intervals:
        return []
    low, high = (np.stack(ends) for ends in zip(*intervals, strict=True))
    order = np.argsort(low, axis=0)
    end = np.maximum.accumulate(np.take_along_axis(high, order, axis=0), axis=0)
    start = np.take_along_axis(low, order, axis=0)
    start[1:] = np.maximum(start[1:], end[:-1])
    return list(zip(start, end, strict=True))
