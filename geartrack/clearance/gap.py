"""The gap between the boss and what turns beside it: certified bounds, place, map (DESIGN 3)."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import lru_cache
from math import ceil

import numpy as np

from geartrack.boss.mesh import PlacedBoss
from geartrack.clearance.prepared import Prepared, prepare
from geartrack.clearance.search import View, least_distance, pinion_view, ring_view
from geartrack.frame import Array, meridian
from geartrack.section import Section
from geartrack.sweep import Pose, nearest, signed_distance
from geartrack.tolerances import TOLERANCES, Tolerances

_NOMINAL = Pose()


@dataclass(frozen=True, eq=False)
class Gap:
    """A gap, positive apart; negative is contact, its size the boss's depth inside the section (DESIGN 3).

    lower_mm, upper_mm : certified bounds [mm]; nominal_mm : the distance at `point` [mm]
    point : (3,) the nearest or deepest point found on the boss, axle frame [mm]
    section_point : (2,) the nearest point of the section's outline, in the body's half-plane [mm]
    zone : where that is, in words ("toe corner", "tooth tips")
    """

    lower_mm: float
    upper_mm: float
    nominal_mm: float
    point: Array
    section_point: Array
    zone: str


def gap(prepared: Prepared, section: Section, *, tolerances: Tolerances = TOLERANCES, pose: Pose | None = None) -> Gap:
    """The gap between a surface and the ring's sweep, the least signed distance over the whole surface.

    upper_mm - lower_mm <= tolerances.gap_mm; `pose` moves the ring off its nominal place.
    """
    return _gap(prepared, section, ring_view(pose or _NOMINAL), tolerances)


def boss_gap(
    placed: PlacedBoss, section: Section, *, tolerances: Tolerances = TOLERANCES, pose: Pose | None = None
) -> Gap:
    """The gap between a boss and the ring's sweep; the bounds also cover how far its facets stray from the surface."""
    return _facets_covered(placed, gap(prepared_boss(placed), section, tolerances=tolerances, pose=pose))


def pinion_gap(placed: PlacedBoss, pinion_section: Section, *, tolerances: Tolerances = TOLERANCES) -> Gap:
    """The gap between a boss and the pinion, whose section lies in (q, X) about the pinion axis (see Section).

    A pinion further off than tolerances.far_mm is bounded from below by its convex outline, which its dished toe end is
    not much short of: that costs a hundredth of what its hollow does.
    """
    prepared, view = prepared_boss(placed), pinion_view(placed.seat.offset_mm)
    rough = _gap(prepared, _convex(pinion_section), view, tolerances)
    if rough.lower_mm < tolerances.far_mm:
        return _facets_covered(placed, _gap(prepared, pinion_section, view, tolerances))
    place = nearest(pinion_section, meridian(view.inward(rough.point)))
    found = Gap(rough.lower_mm, place.distance_mm, place.distance_mm, rough.point, place.point, place.zone)
    return _facets_covered(placed, found)


def gap_by_body(
    placed: PlacedBoss,
    sections: Mapping[str, Section],
    *,
    tolerances: Tolerances = TOLERANCES,
    pose: Pose | None = None,
) -> dict[str, Gap]:
    """The gap to each body that turns with the ring gear ("ring", "ring bolts", "carrier")."""
    return {name: boss_gap(placed, each, tolerances=tolerances, pose=pose) for name, each in sections.items()}


def gap_map(placed: PlacedBoss, section: Section) -> Array:
    """Signed distance of each vertex of the boss to the ring's sweep, (n,) [mm]; for pictures, not for the gap."""
    return signed_distance(section, meridian(placed.vertices))


def axial_retreat(placed: PlacedBoss, section: Section, *, tolerances: Tolerances = TOLERANCES) -> float:
    """How far the ring has to back off along +Z until it just touches nothing [mm], to tolerances.gap_mm; 0 if apart.

    The first clear place that is met going back in growing steps, none smaller than the depth still to go; it is on the
    clear side by no more than tolerances.gap_mm.
    """

    def clear(back_mm: float) -> float:
        return boss_gap(placed, section.moved(dz_mm=back_mm), tolerances=tolerances).lower_mm

    touching, step, back, left = 0.0, 0.0, 0.0, clear(0.0)
    if left >= 0:
        return 0.0
    while left < 0:
        touching, step = back, max(2 * step, -left)
        back += step
        left = clear(back)
    steps = range(ceil((back - touching) / tolerances.gap_mm))
    return touching + tolerances.gap_mm * bisect_left(steps, 0.0, key=lambda n: clear(touching + tolerances.gap_mm * n))


@lru_cache(maxsize=2)
def prepared_boss(placed: PlacedBoss) -> Prepared:
    """The boss's surface, sorted once and kept for the next query."""
    return prepare(placed.vertices, placed.triangles)


def _gap(prepared: Prepared, section: Section, view: View, tolerances: Tolerances) -> Gap:
    lower, upper, point = least_distance(prepared, section, view, tolerances.gap_mm)
    place = nearest(section, meridian(view.inward(point)))
    return Gap(lower, upper, upper, point, place.point, place.zone)


def _convex(section: Section) -> Section:
    """The convex outline of a section."""
    from shapely import MultiPoint

    points = np.asarray(MultiPoint(section.points).convex_hull.exterior.coords)[:-1]
    r, z = points.T
    forward = np.sum(r * np.roll(z, -1) - np.roll(r, -1) * z) > 0
    return Section(points if forward else points[::-1].copy(), (section.name,) * len(points), section.name)


def _facets_covered(placed: PlacedBoss, found: Gap) -> Gap:
    mesh = placed.mesh
    return replace(found, lower_mm=found.lower_mm - mesh.short_mm, upper_mm=found.upper_mm + mesh.proud_mm)
