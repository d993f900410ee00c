"""Plane cuts, silhouettes and swept areas against closed forms and against membership worked out point by point."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from manifold3d import Manifold

from geartrack.boss.mesh import Bore, BossMesh, PlacedBoss
from geartrack.draw import outline
from geartrack.frame import Hand, Seat, from_polar, meridian
from geartrack.section import Section

OUTER, INNER, LENGTH, FACETS = 27.0, 18.0, 22.0, 360
SECTION = Section(
    np.array([[84.8, 23.4], [120.0, 31.0], [118.0, 50.0], [80.0, 50.0]]), ("tooth tips", "heel", "back face", "toe")
)


def tube(hand: Hand = Hand.BELOW) -> PlacedBoss:
    """A tube about the boss's x axis, bored right through, as a mesh of a general-purpose kernel."""
    solid = Manifold.cylinder(LENGTH, OUTER, OUTER, FACETS) - Manifold.cylinder(LENGTH, INNER, INNER, FACETS)
    mesh = solid.to_mesh()
    up = np.asarray(mesh.vert_properties, float)
    vertices = np.stack([up[:, 2] - LENGTH, up[:, 0], up[:, 1]], axis=1)
    bore = Bore(2 * INNER, LENGTH, 0.0, LENGTH)
    return PlacedBoss(BossMesh(vertices, np.asarray(mesh.tri_verts, np.int32), bore), Seat(54.0, 50.0, hand))


def polygon_area(radius: float) -> float:
    """Of the regular polygon inscribed in a circle (closed form); the kernel's vertices are single precision."""
    return FACETS / 2 * radius**2 * np.sin(2 * np.pi / FACETS)


@pytest.mark.parametrize("station", [0.0, 3.7, LENGTH])
def test_cut_square_to_the_bore_is_a_ring(station):
    cut = outline.across_bore(tube().mesh, station)
    assert cut.area == pytest.approx(polygon_area(OUTER) - polygon_area(INNER), rel=1e-8)
    assert outline.outer(cut).area == pytest.approx(polygon_area(OUTER), rel=1e-8)
    assert cut.is_valid
    assert not cut.contains(shapely.Point(0.0, 0.0))


def test_cut_straight_through_the_pinion_axis_is_two_bars():
    """Where the half-plane lies along the pinion axis (no offset), the cut is two rectangles (closed form)."""
    boss = PlacedBoss(tube().mesh, Seat(0.0, 50.0, Hand.BELOW))
    cut = outline.across_ring_axis(boss, 0.0)
    assert cut.area == pytest.approx(2 * LENGTH * (OUTER - INNER), rel=1e-4)  # facets' corners lie near z
    assert cut.bounds == pytest.approx((28.0, -OUTER, 50.0, OUTER), abs=0.01)


@pytest.mark.parametrize("hand", list(Hand))
def test_silhouette_holds_the_boss_and_no_more(hand):
    """Random points of the tube lie in it; its edge is never further from the tube's points than their spacing."""
    random = np.random.default_rng(7)
    q = np.sqrt(random.uniform(INNER**2, OUTER**2, 20_000)) * np.cos(np.pi / FACETS)  # within the facets
    points = from_polar(random.uniform(0, LENGTH, len(q)), q, random.uniform(-np.pi, np.pi, len(q)))
    boss = tube(hand)
    at = meridian(boss.seat.to_axle(points))
    shape = outline.silhouette(boss)
    off = shapely.distance(shape, shapely.points(at))
    assert off.max() < 0.01  # a twentieth of a printed line at the scale of the side view
    edge = np.asarray(shape.exterior.segmentize(1.0).coords)
    nearest = [np.hypot(*(at - point).T).min() for point in edge]
    assert max(nearest) < 2.0  # 20,000 points over 2,500 mm2: mean spacing 0.35 mm, wider toward the outline's corners


@pytest.mark.parametrize("hand", list(Hand))
@pytest.mark.parametrize("station", [0.0, 10.0])
def test_swept_area_holds_just_the_points_that_the_section_sweeps(hand, station):
    boss = tube(hand)
    random = np.random.default_rng(11)
    y, z = random.uniform(-40, 40, 4000), random.uniform(-10, 60, 4000)
    points = np.stack([np.full_like(y, -station), y, z], axis=1)
    swept = shapely.contains(shapely.Polygon(SECTION.points), shapely.points(meridian(boss.seat.to_axle(points))))
    area = outline.swept_across_bore(SECTION, boss, station)
    drawn = shapely.contains(area, shapely.points(y, z))
    near_edge = shapely.distance(area.boundary, shapely.points(y, z)) < 0.05
    assert swept.any()
    assert not swept.all()
    assert (drawn == swept)[~near_edge].all()


def test_a_section_that_does_not_reach_the_plane_sweeps_nothing_there():
    small = Section(np.array([[10.0, 0.0], [20.0, 0.0], [20.0, 5.0]]), ("a", "b", "c"))
    assert outline.swept_across_bore(small, tube(), 0.0).is_empty
