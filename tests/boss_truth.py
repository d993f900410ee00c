"""What bosses really are, worked out apart from the package: true radii in closed form, exact distances to a mesh."""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree
from trimesh.triangles import closest_point

from geartrack.boss.mesh import Bore, BossMesh
from geartrack.boss.parts import Cone, Cut, Cylinder, Fillet, Pad, Part, Rib

Array = NDArray[np.float64]

BORE = Bore(38.0, 20.0, 1.5, 18.0)
DEMO = (  # invented: a boss, its web, the fillet between them, a rib and a pad
    Cylinder(54.4, 0.0, 22.0),
    Cylinder(62.0, 22.0, 27.0),
    Fillet(3.0, 22.0, 54.4),
    Rib(math.radians(150), 9.0, 40.0, 6.0, 27.0),
    Pad(math.radians(-115), 29.0, 16.0, 4.0, 27.0),
)


def radius_of(part: Part, s: float, t: float, edge_break_mm: float) -> float:
    """How far out from the bore axis a part's metal goes at station s [mm] and clock t [rad]; 0 where it has none.

    Written from the words that define the parts, one ray at a time.
    """
    if isinstance(part, Fillet):  # here always before the corner: the larger part starts at `at_mm`
        along = s - (part.at_mm - part.radius_mm)
        if not 0 <= along <= part.radius_mm:
            return 0.0
        return part.diameter_mm / 2 + part.radius_mm - math.sqrt(part.radius_mm**2 - along**2)
    if not part.start_mm <= s <= part.end_mm:
        return 0.0
    broken = edge_break_mm if part.start_mm == 0 else 0.0
    if isinstance(part, Cylinder):
        return min(part.diameter_mm / 2, part.diameter_mm / 2 - broken + s if broken else math.inf)
    if isinstance(part, Cone):
        share = (s - part.start_mm) / (part.end_mm - part.start_mm)
        plain = (part.diameter_start_mm + share * (part.diameter_end_mm - part.diameter_start_mm)) / 2
        return min(plain, part.diameter_start_mm / 2 - broken + s if broken else math.inf)
    assert isinstance(part, Pad | Rib)
    top = part.distance_mm if isinstance(part, Pad) else part.reach_mm
    top = min(top, top - broken + s) if broken else top
    lean = math.remainder(t - part.clock, 2 * math.pi)
    if math.cos(lean) <= 1e-12:
        return 0.0
    sides = part.width_mm / 2 / abs(math.sin(lean)) if abs(math.sin(lean)) > 1e-12 else math.inf
    return min(top / math.cos(lean), sides)


def true_radius(parts: Sequence[Part], s: float, t: float, edge_break_mm: float = 0.0) -> float:
    """Where a ray from the bore axis leaves the metal: the furthest of the parts, no further than any cut."""
    out = max(radius_of(part, s, t, edge_break_mm) for part in parts if not isinstance(part, Cut))
    for cut in (part for part in parts if isinstance(part, Cut)):
        lean = math.cos(t - cut.clock)
        if cut.start_mm < s < cut.end_mm and lean > 1e-12:
            out = min(out, cut.distance_mm / lean)
    return out


def place(s: float, q: float, t: float) -> list[float]:
    """A point in the boss frame, from the words of its definition."""
    return [-s, q * math.sin(t), q * math.cos(t)]


def volume(mesh: BossMesh) -> float:
    """Enclosed volume [mm3], positive only if wound outward (divergence theorem)."""
    a, b, c = np.moveaxis(mesh.vertices[mesh.triangles], 1, 0)
    return float(np.einsum("ij,ij->", a, np.cross(b, c)) / 6)


def area(mesh: BossMesh) -> float:
    """Surface area [mm2]."""
    a, b, c = np.moveaxis(mesh.vertices[mesh.triangles], 1, 0)
    return float(np.linalg.norm(np.cross(b - a, c - a), axis=1).sum() / 2)


def is_closed(mesh: BossMesh) -> bool:
    """Every directed edge once, and its opposite once: closed, consistently wound, no edge shared by more than two."""
    edges = np.concatenate([np.roll(mesh.triangles, -k, axis=1)[:, :2] for k in range(3)]).astype(np.int64)
    codes = edges @ np.array([len(mesh.vertices), 1])
    back = edges[:, ::-1] @ np.array([len(mesh.vertices), 1])
    return len(np.unique(codes)) == len(codes) and np.array_equal(np.sort(codes), np.sort(back))


def euler(mesh: BossMesh) -> int:
    """Vertices - edges + faces: 2 with a blind bore, 0 with a bore right through."""
    used = len(np.unique(mesh.triangles))
    return used - 3 * len(mesh.triangles) // 2 + len(mesh.triangles)


@lru_cache(maxsize=4)
def _boxes(mesh: BossMesh) -> tuple[Array, Array, Array, cKDTree]:
    corners = mesh.vertices[mesh.triangles]
    return corners, corners.min(axis=1).T.copy(), corners.max(axis=1).T.copy(), cKDTree(mesh.vertices)


def distance(mesh: BossMesh, point: Sequence[float] | Array) -> float:
    """Unsigned distance [mm] from a point to the mesh's surface, exact (trimesh's triangle arithmetic)."""
    corners, low, high, tree = _boxes(mesh)
    here = np.asarray(point, float)
    reach = tree.query(here)[0] + 1e-9
    near = np.arange(len(corners))
    for axis in range(3):
        near = near[(low[axis][near] <= here[axis] + reach) & (high[axis][near] >= here[axis] - reach)]
    closest = closest_point(corners[near], np.tile(here, (len(near), 1)))
    return float(np.linalg.norm(closest - here, axis=1).min())


def surface_points(mesh: BossMesh, count: int, seed: int) -> Array:
    """Random points on the mesh, as many on a small triangle as on a large one: (count, 3) [mm]."""
    rng = np.random.default_rng(seed)
    weights = rng.dirichlet((1.0, 1.0, 1.0), count)
    chosen = rng.integers(len(mesh.triangles), size=count)
    points: Array = np.einsum("ij,ijk->ik", weights, mesh.vertices[mesh.triangles[chosen]])
    return points
