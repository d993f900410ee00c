"""A scan's health: planted faults of known number, closed forms, and trimesh's own counts."""

from __future__ import annotations

from typing import Any

import larch_scan
import numpy as np
import pytest
import scan_castings as castings
import trimesh
from scan_shapes import ball, without

from geartrack.boss.scan.edges import edges
from geartrack.boss.scan.files import ScanMesh, read_scan
from geartrack.boss.scan.health import health


def scan(vertices: Any, triangles: Any) -> ScanMesh:
    return ScanMesh(np.asarray(vertices, float), np.asarray(triangles, np.int32), "mm", "said", "made up.stl")


def test_a_whole_ball() -> None:
    """Area 4 pi R^2 within the facets' share, no more than (edge / R)^2 of it; its noise none."""
    made = ball()
    found = health(scan(made.vertices, made.faces))
    assert (found.triangles, found.vertices) == (20480, 10242)
    assert (found.shells, found.specks, found.holes, found.open_edges, found.branching_edges) == (1, 0, (), 0, 0)
    assert found.watertight
    assert found.turned_share == 0
    assert found.box_mm == pytest.approx((90, 90, 90), rel=1e-3)
    assert found.area_mm2 == pytest.approx(4 * np.pi * 45**2, rel=(found.longest_edge_mm / 45) ** 2)
    assert found.longest_edge_mm == pytest.approx(made.edges_unique_length.max())
    assert found.usual_edge_mm == pytest.approx(np.median(made.edges_unique_length), rel=1e-3)
    assert found.scatter_mm is not None
    assert found.scatter_mm < 0.01


def test_holes_of_known_number_and_size() -> None:
    """Three vertices far apart lose their triangles: each rim is what the neighbours' ring is long."""
    made = ball()
    lost = [100, 4000, 9000]
    rings = [made.vertices[made.vertex_neighbors[each]] for each in lost]
    found = health(scan(made.vertices, without(made.faces, *lost)))
    assert len(found.holes) == 3
    assert found.open_edges == sum(len(ring) for ring in rings)
    assert not found.watertight
    for each, ring in zip(lost, rings, strict=True):
        middle = ring.mean(axis=0)
        hole = min(found.holes, key=lambda hole: float(np.linalg.norm(middle - hole.centre_mm)))
        assert np.linalg.norm(middle - hole.centre_mm) < 0.2
        about = np.linalg.norm(ring - made.vertices[each], axis=1).mean()  # a hexagon: its sides are as long
        assert hole.rim_mm == pytest.approx(len(ring) * about, rel=0.1)
        assert hole.across_mm == pytest.approx(2 * about, rel=0.15)
        assert hole.edges == len(ring)


def test_the_widest_hole_comes_first() -> None:
    made = ball()
    cap = made.faces[(made.triangles_center[:, 2] < 30)]
    found = health(scan(made.vertices, without(cap, 0 if made.vertices[0, 2] < 20 else 4000)))
    assert len(found.holes) == 2
    circle = 2 * np.pi * np.sqrt(45**2 - 30**2)
    assert circle < found.holes[0].rim_mm < 2 * circle  # a rim of even-sided teeth is twice as long
    assert found.holes[0].across_mm == pytest.approx(circle / np.pi, rel=0.05)


@pytest.mark.parametrize("share", [0.01, 0.2, 0.45])
def test_turned_triangles_of_known_number(share: float) -> None:
    made = ball()
    rng = np.random.default_rng(4)
    back = rng.random(len(made.faces)) < share
    faces = made.faces.copy()
    faces[back] = faces[back][:, ::-1]
    found = health(scan(made.vertices, without(faces, 700)))
    left = back[~np.isin(made.faces, [700]).any(axis=1)]
    assert found.turned_share == pytest.approx(left.mean())
    assert found.open_edges > 0


def test_shells_and_specks_of_known_number() -> None:
    parts = [ball(), *(trimesh.creation.box((1, 1, 1), transform=np.eye(4)) for _ in range(3))]
    parts += [trimesh.creation.icosphere(subdivisions=3, radius=9.0)]
    for i, part in enumerate(parts[1:]):
        part.apply_translation([100 + 30 * i, 0, 0])
    whole = trimesh.util.concatenate(parts)
    found = health(scan(whole.vertices, whole.faces))
    assert (found.shells, found.specks) == (5, 3)
    assert found.watertight


def test_a_band_with_one_side_is_wound_no_way() -> None:
    """A Moebius band: turning any of it round leaves a seam."""
    count = 60
    turn = 2 * np.pi * np.arange(count) / count
    points = []
    for side in (-8.0, 8.0):
        out = 50 + side * np.cos(turn / 2)
        points.append(np.stack([out * np.cos(turn), out * np.sin(turn), side * np.sin(turn / 2)], axis=1))
    i = np.arange(count)
    last = i == count - 1
    low, high = np.where(last, count, i + 1), np.where(last, 0, count + i + 1)
    faces = np.concatenate([np.stack([i, low, high], axis=1), np.stack([i, high, count + i], axis=1)])
    found = edges(faces.astype(np.int32))
    assert found.one_sided.tolist() == [True]
    assert not found.turned.any()
    assert not trimesh.Trimesh(np.concatenate(points), faces, process=False).is_winding_consistent
    assert health(scan(np.concatenate(points), faces)).shells == 1


def test_three_leaves_at_one_edge() -> None:
    points = [[0, 0, 0], [0, 0, 50], [50, 0, 0], [-50, 0, 0], [0, 50, 0]]
    found = health(scan(points, [[0, 1, 2], [1, 0, 3], [0, 1, 4]]))
    assert found.branching_edges == 1
    assert not found.watertight
    assert found.scatter_mm is None  # of five points nothing can be told


@pytest.mark.parametrize("seed", range(4))
def test_counts_against_trimesh(seed: int) -> None:
    """A surface with a fifth of its triangles lost at random: the counts are trimesh's."""
    rng = np.random.default_rng(seed)
    made = ball(fine=3)
    faces = made.faces[rng.random(len(made.faces)) > 0.2]
    theirs = trimesh.Trimesh(made.vertices, faces, process=False)
    found = health(scan(made.vertices, faces))
    alone = trimesh.grouping.group_rows(theirs.edges_sorted, require_count=1)
    assert found.open_edges == len(alone)
    assert found.watertight == theirs.is_watertight
    parts = trimesh.graph.connected_components(theirs.face_adjacency, nodes=np.arange(len(faces)), min_len=1)
    assert found.shells == len(parts)
    assert found.area_mm2 == pytest.approx(theirs.area)


@pytest.mark.parametrize("sigma", [0.005, 0.02, 0.1])
@pytest.mark.parametrize("shape", ["ball", "tube"])
def test_noise_of_known_size(sigma: float, shape: str) -> None:
    """What was planted, within a tenth: the most alike quarter of 1,500 places, 22 degrees of freedom each."""
    rng = np.random.default_rng(11)
    if shape == "ball":
        made = ball(fine=6)
    else:
        made = trimesh.creation.cylinder(radius=30, height=60, sections=200)
        made = made.subdivide_to_size(1.2, max_iter=20)
        out = np.hypot(made.vertices[:, 0], made.vertices[:, 1])
        side = np.abs(made.vertices[:, 2]) < 29.9
        made.vertices[side, :2] *= (30 / out[side])[:, None]
    points = made.vertices + rng.normal(scale=sigma, size=made.vertices.shape)
    found = health(scan(points, made.faces))
    assert found.scatter_mm is not None
    assert found.scatter_mm == pytest.approx(sigma, rel=0.1)


def test_noise_of_a_casting_that_is_mostly_edges() -> None:
    """The planted 0.02 mm, although the most of its places lie at an edge."""
    points, faces = castings.clean_scan("boss", 1.5)
    for strays in (0.0, 0.01):
        vertices = castings.scanned(points, faces, seed=3, strays=strays)[0]
        assert health(scan(vertices, faces)).scatter_mm == pytest.approx(0.02, rel=0.1)
    demo = read_scan(larch_scan.FILE, unit="mm")
    assert health(demo).scatter_mm == pytest.approx(larch_scan.NOISE_MM, rel=0.1)


def test_nothing_is_said_of_the_noise_where_strays_are_everywhere() -> None:
    """Of 28 vertices near one another 5 stray: no place shows the noise alone."""
    points, faces = castings.clean_scan("boss", 1.5)
    vertices = castings.scanned(points, faces, seed=3, strays=0.2)[0]
    assert health(scan(vertices, faces)).scatter_mm is None


def test_nothing_is_said_of_the_noise_of_coarse_facets() -> None:
    made = trimesh.creation.icosphere(subdivisions=5, radius=300.0)
    assert health(scan(made.vertices, made.faces)).scatter_mm is None
