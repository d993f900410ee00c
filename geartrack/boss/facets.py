"""What bosses from parts and from stations share: how many facets round, rings of points, and whether a bore is one."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np

from geartrack.boss.mesh import Bore, Triangles
from geartrack.errors import Finding
from geartrack.frame import Array, from_polar
from geartrack.tolerances import TOLERANCES
from geartrack.units import show_both

LARGEST_MM = 300.0
"""No boss is larger; guards the memory against a slip of the unit."""


def facets_per_turn(radius_mm: float, tolerance_mm: float) -> int:
    """Sides of a polygon inscribed in a circle that stays within `tolerance_mm` of it, a multiple of four.

    Sagitta R (1 - cos(pi/n)) <= R pi^2 / (2 n^2) <= tolerance for n >= pi / sqrt(2 tolerance / R) (DESIGN 3).

    >>> facets_per_turn(27.0, 0.0005)
    520
    """
    return max(16, 4 * math.ceil(math.pi / math.sqrt(2 * tolerance_mm / radius_mm) / 4))


def sagitta_mm(radius_mm: float, facets: int) -> float:
    """How far an inscribed polygon of so many sides falls short of its circle [mm]."""
    return 2 * radius_mm * math.sin(math.pi / (2 * facets)) ** 2


def bore_circle_mm(bore: Bore, facets: int) -> float:
    """Corner radius [mm] of the polygon round the bore: circumscribed, so that no facet adds to the wall."""
    return bore.diameter_mm / 2 / math.cos(math.pi / facets)


def clock_angles(facets: int) -> Array:
    """Clock angles [rad] of the corners of a ring: the first at 12 o'clock, then clockwise, (facets,)."""
    angles: Array = np.arange(facets) * np.float64(2 * math.pi / facets)
    return angles


def rings(station_mm: Array, radius_mm: Array, facets: int) -> Array:
    """Boss-frame points (k, facets, 3) [mm] of k rings.

    station_mm (k,) [mm]; radius_mm (k,) or (k, facets) [mm].
    """
    return from_polar(station_mm[:, None], radius_mm.reshape(len(radius_mm), -1), clock_angles(facets))


def strip(first: int, second: int, facets: int) -> Triangles:
    """Triangles between two rings whose points start at these indices, the second further in and metal inside them."""
    i = np.arange(facets)
    j = (i + 1) % facets
    pairs = [[first + i, first + j, second + j], [first + i, second + j, second + i]]
    return np.concatenate([np.stack(three, axis=-1) for three in pairs]).astype(np.int32)


def fan(ring: int, centre: int, facets: int, *, inward: bool) -> Triangles:
    """Triangles from a ring to a point on the axis; `inward`: they face further in (away from the pinion-nut end)."""
    i = np.arange(facets)
    j = (i + 1) % facets
    ends = (i + ring, j + ring) if inward else (j + ring, i + ring)
    return np.stack([*ends, np.full(facets, centre)], axis=-1).astype(np.int32)


def lathe(station_mm: Array, radius_mm: Array, facets: int, *, closed: bool = False) -> tuple[Array, Triangles]:
    """A solid about the bore axis: rings strung along its outline, metal on the outline's inner side.

    The outline runs so that a plain outside rises in station; ends are filled flat to the axis, or, if `closed`, the
    last ring joins the first (a bore right through). station_mm (k,) [mm]; radius_mm (k,) or (k, facets), > 0 [mm].
    """
    count = len(station_mm)
    points = rings(station_mm, radius_mm, facets).reshape(-1, 3)
    walls = [strip(a * facets, b * facets, facets) for a, b in pairwise([*range(count), *([0] if closed else [])])]
    if closed:
        return points, np.concatenate(walls)
    ends = from_polar(station_mm[[0, -1]], np.zeros(2), np.zeros(2))
    caps = [
        fan(0, count * facets, facets, inward=False),
        fan((count - 1) * facets, count * facets + 1, facets, inward=True),
    ]
    return np.concatenate([points, ends]), np.concatenate([*walls, *caps])


def said(mm: float) -> str:
    """A length [mm] for a message: in both units, or as it is where it is no length at all.

    >>> said(60.0), said(math.nan)
    ('2.362 in (60.00 mm)', 'nan mm')
    """
    return show_both(mm, "in") if math.isfinite(mm) else f"{mm} mm"


def bore_findings(bore: Bore) -> list[Finding]:
    """What is wrong with a bore by itself, one finding each."""
    found = []
    for key, value in (("bore_diameter", bore.diameter_mm), ("bore_depth", bore.depth_mm)):
        if not 0 < value <= LARGEST_MM:  # also true for NaN
            found.append(Finding(f"boss.{key}", f"{said(value)} is no size for a bore", "a length greater than 0"))
    if not found and not 0 <= bore.seat_from_mm < bore.seat_to_mm <= bore.depth_mm:
        seat = f"the bearing seat runs from {said(bore.seat_from_mm)} to {said(bore.seat_to_mm)}"
        right = f"seat_from less than seat_to, both between 0 and the bore's depth, {said(bore.depth_mm)}"
        found.append(Finding("boss.seat_to", seat, right))
    return found


def seat_findings(bore: Bore, length_mm: float) -> list[Finding]:
    """Whether a boss of this length [mm] holds the whole bearing seat."""
    if bore.seat_to_mm <= length_mm + TOLERANCES.mesh_mm:
        return []
    what = f"the bearing seat ends at {said(bore.seat_to_mm)}, but the boss ends at {said(length_mm)}"
    return [Finding("boss.seat_to", what, "a boss as long as its bearing seat")]
