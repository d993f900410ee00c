"""The gap by several means, each split in preparation and query, for tests/bench; boss and ring are invented."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import fcl
import manifold3d
import numpy as np
import trimesh
from gap_shapes import OFFSET, RING, cylinder

from geartrack.clearance import batch_gap, gap, prepare
from geartrack.frame import meridian
from geartrack.section import Section
from geartrack.sweep import signed_distance

RING_FACETS = 1440
SEARCH_MM = 20.0
SIZES = {"2k": (40, 24), "50k": (200, 124), "1M": (1290, 388)}
APART, TOUCHING = RING.moved(dz_mm=-1.0), RING.moved(dz_mm=-3.0)
PLACEMENTS = 10_000
RATIOS = [RING.moved(dz_mm=-0.2 * step) for step in range(20)]  # as the ring climbs from ratio to ratio


def rough_boss(size: str) -> Any:
    """A cylinder boss with a cast surface of 0.05 mm roughness (seeded): (vertices, triangles)."""
    vertices, triangles = cylinder(27, 28, 50, *SIZES[size])
    out = vertices - [0, OFFSET, 0]
    rough = 1 + np.random.default_rng(0).normal(0, 0.05 / 27, len(out))
    vertices[:, 1:] = out[:, 1:] * rough[:, None] + [OFFSET, 0]
    return vertices, triangles


@dataclass(frozen=True)
class Contestant:
    """prepare(vertices, triangles) -> ready; query(ready, section) -> gap [mm]; both timed."""

    name: str
    prepare: Callable[[Any, Any], Any]
    query: Callable[[Any, Section], float]


def _facets(section: Section) -> Any:
    return trimesh.creation.revolve(np.vstack([section.points, section.points[:1]]), sections=RING_FACETS)


def _fcl(vertices: Any, triangles: Any) -> Any:
    model = fcl.BVHModel()
    model.beginModel(len(vertices), len(triangles))
    model.addSubModel(vertices, triangles)
    model.endModel()
    return fcl.CollisionObject(model)


def _fcl_distance(boss: Any, section: Section) -> float:
    ring = _facets(section)
    return float(fcl.distance(boss, _fcl(ring.vertices, ring.faces), fcl.DistanceRequest(), fcl.DistanceResult()))


def _manifold(vertices: Any, triangles: Any) -> Any:
    return manifold3d.Manifold(manifold3d.Mesh64(vertices, triangles.astype(np.uint64)))


def _manifold_ring(section: Section) -> Any:
    return manifold3d.Manifold.revolve(manifold3d.CrossSection([section.points]), RING_FACETS)


def _manifold_gap(boss: Any, section: Section) -> float:
    return float(boss.min_gap(_manifold_ring(section), SEARCH_MM))


def _manifold_common(boss: Any, section: Section) -> float:
    """Not a gap: the volume in common, 0 apart; what a boolean kernel can say about contact [mm3]."""
    return float((boss ^ _manifold_ring(section)).volume())


def _vertices(vertices: Any, section: Section) -> float:
    return float(signed_distance(section, meridian(vertices)).min())


OURS = Contestant("geartrack, certified", prepare, lambda ready, section: gap(ready, section).nominal_mm)
VERTICES = Contestant("vertices only, optimistic", lambda v, t: v, _vertices)
HYPOT = Contestant("np.hypot on the vertices", lambda v, t: v, lambda v, s: float(np.hypot(v[:, 0], v[:, 1])[0]))
FCL = Contestant("fcl, distance", _fcl, _fcl_distance)
MANIFOLD = Contestant("manifold3d, min_gap", _manifold, _manifold_gap)
MANIFOLD_BOOLEAN = Contestant("manifold3d, boolean", _manifold, _manifold_common)
CONTESTANTS = {c.name: c for c in (OURS, VERTICES, HYPOT, FCL, MANIFOLD, MANIFOLD_BOOLEAN)}


def drawn(count: int = PLACEMENTS) -> tuple[Any, Any]:
    """Invented draws: a ring section of its own for each placement (count, 6, 2), and how the boss is shifted."""
    rng = np.random.default_rng(0)
    corners = np.repeat(APART.points[None], count, axis=0) + rng.normal(0, 0.05, (count, 6, 2))
    corners[..., 1] += rng.normal(0, 0.3, (count, 1))
    return corners, rng.normal(0, 1, (count, 3)) * [0.1, 0.38, 0.38]


def ours_at_once(vertices: Any, triangles: Any, corners: Any, shifts: Any) -> Any:
    """Certified bounds of every placement's gap."""
    return batch_gap(prepare(vertices, triangles), corners, shifts)


def fcl_one_ring(vertices: Any, triangles: Any, shifts: Any) -> Any:
    """A plain loop over the collision library: one ring for all, the boss moved; both built once."""
    ring, boss = _facets(APART), _fcl(vertices, triangles)
    other = _fcl(ring.vertices, ring.faces)
    found = []
    for shift in shifts:
        boss.setTransform(fcl.Transform(shift))
        found.append(fcl.distance(boss, other, fcl.DistanceRequest(), fcl.DistanceResult()))
    return np.array(found)


def fcl_own_rings(vertices: Any, triangles: Any, corners: Any, shifts: Any) -> Any:
    """The same with a ring for each placement, which has to be built anew."""
    boss, found = _fcl(vertices, triangles), []
    for points, shift in zip(corners, shifts, strict=True):
        boss.setTransform(fcl.Transform(shift))
        found.append(_fcl_distance(boss, Section(points, APART.edges)))
    return np.array(found)
