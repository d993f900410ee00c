"""What a scan is worth as it is: how many shells and holes, what is turned round, how rough it is."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from geartrack.boss.mesh import Triangles
from geartrack.boss.scan.edges import Edges, edges
from geartrack.boss.scan.files import ScanMesh
from geartrack.frame import Array

_NEAR, _TERMS = 28, 6  # vertices about one that a curved surface of so many terms is fitted to
_PLACES, _MOST_POINTS, _ALIKE = 1500, 400_000, 0.25
_FEWEST_POINTS, _COARSE_MM = 1000, 2.0
_LEAST_MM2 = 1e-12
_ALIKE_WITHIN = 0.5  # of normal errors a quarter of the logarithms lie within 0.2; half of the places at edges: 0.4
_SEED = 20261125


@dataclass(frozen=True)
class Hole:
    """An opening, or the outer rim of a scan of part of a thing.

    centre_mm: middle of its rim, in the scan's place; rim_mm: length round it; across_mm: its rim's longest extent.
    """

    centre_mm: tuple[float, float, float]
    rim_mm: float
    across_mm: float
    edges: int


@dataclass(frozen=True)
class Health:
    """A scan's state. Lengths [mm].

    triangles, vertices: how many; shells: parts that hang together, specks: those of fewer than a thousandth of the
        largest one's triangles
    holes: openings, the widest first; open_edges: edges with one triangle; branching_edges: with three or more
    watertight: every edge has two triangles; turned_share: of triangles wound against their shell [-]
    box_mm: sides of the box round it; longest_edge_mm: of any triangle; usual_edge_mm: half are shorter
    area_mm2: of its surface
    scatter_mm: of its vertices about the smooth surface through them, one sigma, what a scanner has smoothed away left
        out; None where its triangles are too coarse or too few to tell, or strays are nearly everywhere
    """

    triangles: int
    vertices: int
    shells: int
    specks: int
    holes: tuple[Hole, ...]
    open_edges: int
    branching_edges: int
    watertight: bool
    turned_share: float
    box_mm: tuple[float, float, float]
    longest_edge_mm: float
    usual_edge_mm: float
    area_mm2: float
    scatter_mm: float | None


def health(mesh: ScanMesh) -> Health:
    """The state of a scan."""
    found = edges(mesh.triangles)
    sizes = np.bincount(found.shells)
    lengths = _lengths(mesh.vertices, mesh.triangles)
    usual = float(np.sqrt(np.median(lengths)))
    low, high = mesh.vertices.min(axis=0), mesh.vertices.max(axis=0)
    return Health(
        triangles=len(mesh.triangles),
        vertices=len(mesh.vertices),
        shells=len(sizes),
        specks=int((sizes * 1000 < sizes.max()).sum()),
        holes=_holes(mesh.vertices, found),
        open_edges=len(found.open),
        branching_edges=len(found.branching),
        watertight=not len(found.open) and not len(found.branching),
        turned_share=float(found.turned.mean()),
        box_mm=_three(high - low),
        longest_edge_mm=float(np.sqrt(lengths.max())),
        usual_edge_mm=usual,
        area_mm2=_area(mesh.vertices, mesh.triangles),
        scatter_mm=_scatter(mesh.vertices) if usual < _COARSE_MM and len(mesh.vertices) >= _FEWEST_POINTS else None,
    )


def _three(point: Array) -> tuple[float, float, float]:
    x, y, z = (float(value) for value in point)
    return x, y, z


def _lengths(vertices: Array, triangles: Triangles) -> Array:
    """Squares of the lengths of all sides, (3, m) [mm2]."""
    corners = [vertices.take(triangles[:, i], axis=0) for i in range(3)]
    sides = (corners[i] - corners[i - 1] for i in range(3))
    return np.stack([np.einsum("ij,ij->i", side, side) for side in sides])


def _area(vertices: Array, triangles: Triangles) -> float:
    a, b, c = (vertices.take(triangles[:, i], axis=0) for i in range(3))
    return float(np.linalg.norm(np.cross(b - a, c - a), axis=1).sum() / 2)


def _holes(vertices: Array, found: Edges) -> tuple[Hole, ...]:
    if not len(found.open):
        return ()
    order = np.argsort(found.rims, kind="stable")
    rims = np.split(found.open[order], np.flatnonzero(np.diff(found.rims[order])) + 1)
    holes = []
    for rim in rims:
        ends = vertices[rim]
        length = float(np.linalg.norm(ends[:, 1] - ends[:, 0], axis=1).sum())
        holes.append(Hole(_three(ends.reshape(-1, 3).mean(axis=0)), length, _across(ends.reshape(-1, 3)), len(rim)))
    return tuple(sorted(holes, key=lambda hole: -hole.rim_mm))


def _across(points: Array) -> float:
    """Longest extent of points along their own main direction [mm]."""
    centred = points - points.mean(axis=0)
    main = np.linalg.svd(centred.T @ centred)[0][:, 0]
    return float(np.ptp(centred @ main))


def _scatter(vertices: Array) -> float | None:
    """One sigma of vertices about curved surfaces of second order fitted to those nearest to some of them [mm].

    By the quarter of the places whose scatters are most alike, by ratio: those at edges and strays scatter more, each
    by an amount of its own, and on a small casting they are most of all places.
    """
    from scipy.spatial import cKDTree

    rng = np.random.default_rng(_SEED)
    some = vertices[rng.permutation(len(vertices))[:_MOST_POINTS]] if len(vertices) > _MOST_POINTS else vertices
    places = some[rng.integers(len(some), size=_PLACES)]
    near = some[cKDTree(some).query(places, _NEAR)[1]]
    away = near - near.mean(axis=1, keepdims=True)
    _, _, axes = np.linalg.svd(away, full_matrices=False)
    u, v, w = np.moveaxis(away @ axes.transpose(0, 2, 1), -1, 0)
    size = np.maximum(np.abs(u).max(axis=1, keepdims=True), 1e-12)
    u, v = u / size, v / size
    terms = np.stack([np.ones_like(u), u, v, u * u, u * v, v * v], axis=-1)
    basis = np.linalg.qr(terms)[0]
    left = w - np.einsum("pkt,pt->pk", basis, np.einsum("pkt,pk->pt", basis, w))
    # the logarithm of chi-squared is likeliest at its degrees of freedom
    logs = np.sort(np.log(np.maximum((left**2).sum(axis=1) / (_NEAR - _TERMS), _LEAST_MM2)))
    many = round(_ALIKE * _PLACES)
    first = int((logs[many:] - logs[:-many]).argmin())
    if logs[first + many] - logs[first] > _ALIKE_WITHIN:
        return None
    return float(np.exp(np.median(logs[first : first + many + 1]) / 2))
