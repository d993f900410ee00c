"""The least cut in closed form: volume, area, the three depths, the outline; and both hands."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely
from gap_shapes import box, section
from relief_shapes import BORE, END_FACE, LENGTH, RADIUS, RING, TOWARD, flat, placed, sloping, tube
from trimesh.triangles import closest_point

from geartrack.boss.mesh import Bore, PlacedBoss
from geartrack.clearance import boss_gap
from geartrack.errors import InputError
from geartrack.frame import Hand, Seat, from_polar, meridian
from geartrack.relief import relief
from geartrack.relief.patch import find_patch
from geartrack.relief.search import peak
from geartrack.relief.sweep_field import GrownSweep
from geartrack.relief.triangles import distance_to
from geartrack.section import Section
from geartrack.sweep import signed_distance

FACETS = 520
SAGITTA = RADIUS * (1 - np.cos(np.pi / FACETS))  # facets stray from the cylinder by this at most: 0.0005 mm


def polygon_cap(height_mm: float) -> float:
    """Area of the boss's own cross-section, a polygon, above a height: by shapely."""
    turn = 2 * np.pi * np.arange(FACETS) / FACETS
    outside = shapely.Polygon(np.stack([RADIUS * np.sin(turn), RADIUS * np.cos(turn)], axis=1))
    return float(outside.intersection(shapely.box(-99, height_mm, 99, 99)).area)


@pytest.mark.parametrize("height", [19.0, 24.0, 26.9])
@pytest.mark.parametrize("clearance", [0.0, 0.5, 3.0])
def test_cylinder_under_a_flat_ring(height: float, clearance: float) -> None:
    """A flat ring at z leaves a boss ground flat at h = z - C: a segment of the circle all along the boss.

    Segment R^2 acos(h/R) - h sqrt(R^2 - h^2), times the length; the surface removed is the arc's, 2 R acos(h/R) times
    the length, and a segment at each end. Radial depth R - h at 12 o'clock, along the bore the whole length, and from
    mid-length the outside is the nearest surface, R - h away.
    """
    cut = relief(tube(), flat(height + clearance), clearance)
    angle = np.arccos(height / RADIUS)
    segment = RADIUS**2 * angle - height * np.sqrt(RADIUS**2 - height**2)
    assert abs(cut.volume_mm3 - polygon_cap(height) * LENGTH) <= cut.volume_error_mm3 <= 1e-3 * cut.volume_mm3
    assert cut.volume_mm3 == pytest.approx(segment * LENGTH, abs=SAGITTA * 2 * RADIUS * angle * LENGTH)
    assert cut.area_mm2 == pytest.approx(2 * RADIUS * angle * LENGTH + 2 * segment, rel=5e-3)  # distance taken linear
    assert cut.depth_radial_max_mm == pytest.approx(RADIUS - height, abs=SAGITTA)
    assert cut.depth_max_mm == pytest.approx(RADIUS - height, abs=SAGITTA)
    assert cut.depth_axial_max_mm == pytest.approx(LENGTH, abs=1e-5)
    assert abs(cut.depth_radial_clock) < np.arccos((height - 2 * SAGITTA) / RADIUS)
    (outline,) = cut.outline
    assert outline.min(axis=0) == pytest.approx([0, -angle], abs=0.02 / RADIUS)
    assert outline.max(axis=0) == pytest.approx([LENGTH, angle], abs=0.02 / RADIUS)


@pytest.mark.parametrize(("gap", "clearance"), [(0.2, 0.5), (-0.3, 0.5), (0.45, 0.5), (-0.5, 0.0)])
def test_depths_at_an_edge_are_not_clearance_less_gap(gap: float, clearance: float) -> None:
    """The bore axis meets the ring axis (E = 0); in the plane of both, the ring's side, a line with normal (a, b) =
    (sin 10, cos 10), passes the corner of the boss's end face d = C - gap too near. So d / b is cut along the ray,
    d / a along the bore, and the deepest place of the cut face is where both surfaces are d / (a + b) away. Out of the
    plane the ring curves away, as b/R > a/X.

    With d / a = 5.8 d a depth that was clearance less gap would be out almost six times.
    """
    boss, lacking = tube(offset=0.0), clearance - gap
    ring = sloping(gap)
    assert boss_gap(boss, ring).nominal_mm == pytest.approx(gap, abs=0.001)
    cut = relief(boss, ring, clearance)
    a, b = TOWARD
    assert cut.depth_radial_max_mm == pytest.approx(lacking / b, abs=1e-5)
    assert (cut.depth_radial_station_mm, cut.depth_radial_clock) == pytest.approx((0.0, 0.0), abs=2e-3)
    assert cut.depth_axial_max_mm == pytest.approx(lacking / a, abs=1e-4)
    exact = lacking / (a + b)
    assert exact - cut.depth_max_error_mm <= cut.depth_max_mm <= exact + 1e-5
    assert cut.depth_max_error_mm < 0.06
    assert cut.outline[0][:, 0].max() == pytest.approx(lacking / a, abs=0.01)
    middle = np.abs(cut.clocks).argmin()
    here = cut.stations_mm < lacking / a - 0.01
    at_clock = lacking - a * cut.stations_mm[here]
    assert cut.depth_radial_mm[here, middle] == pytest.approx(at_clock / b, abs=2e-3)  # clock within half a step of 12


def test_depth_along_each_ray_of_a_corner_cut() -> None:
    """A ring with a square toe at r0, teeth flat at z0, C = 0, E = 0: cut is what has x^2 + y^2 > r0^2 and z > z0.

    Along the ray at clock t and x = X - s that begins at q = max(z0 / cos t, sqrt(r0^2 - x^2) / |sin t|).
    """
    from scipy.integrate import quad

    toe, tips = 48.0, 24.0
    cut = relief(tube(offset=0.0), flat(tips, inner_mm=toe), 0.0)
    s, t = np.meshgrid(cut.stations_mm, cut.clocks, indexing="ij")
    with np.errstate(divide="ignore"):
        begins = np.maximum(tips / np.cos(t), np.sqrt(np.maximum(toe**2 - (END_FACE - s) ** 2, 0)) / np.abs(np.sin(t)))
    assert cut.cut_radius_mm == pytest.approx(np.minimum(begins, cut.cast_radius_mm), abs=1e-6)
    assert cut.depth_radial_mm == pytest.approx(cut.cast_radius_mm - cut.cut_radius_mm)

    reach = np.sqrt(RADIUS**2 - tips**2)
    volume = quad(lambda y: (END_FACE - np.sqrt(toe**2 - y**2)) * (np.sqrt(RADIUS**2 - y**2) - tips), -reach, reach)[0]
    assert cut.volume_mm3 == pytest.approx(volume, abs=cut.volume_error_mm3 + SAGITTA * cut.area_mm2)
    assert cut.depth_axial_max_mm == pytest.approx(END_FACE - np.sqrt(toe**2 - reach**2), abs=0.005)
    y = np.linspace(0, reach, 100_001)
    deepest = np.minimum(END_FACE - np.sqrt(toe**2 - y**2), RADIUS - np.hypot(y, tips)).max()
    assert deepest - cut.depth_max_error_mm <= cut.depth_max_mm <= deepest + SAGITTA


def test_a_ray_that_crosses_twice_reports_the_innermost() -> None:
    """A thin disc enters through the end face under the boss's outside: at 12 o'clock metal goes from z0 - C up, while
    the outside, 3.75 mm above the disc's upper face, is untouched. The depth along that ray is R - (z0 - C)."""
    low, high, toe, clearance = 22.0, 23.0, 46.0, 0.25
    disc = section((toe, low), (150, low), (150, high), (toe, high))
    cut = relief(tube(offset=0.0), disc, clearance)
    assert cut.depth_radial_max_mm == pytest.approx(RADIUS - (low - clearance), abs=1e-3)
    face = abs(END_FACE - toe) + clearance
    assert cut.depth_axial_max_mm >= face - 1e-6
    assert len(cut.outline) == 1
    middle = int(np.abs(cut.clocks).argmin())
    reached = cut.outline[0][np.abs(cut.outline[0][:, 1] - cut.clocks[middle]) < 0.02, 0].max()
    assert reached == pytest.approx(face, abs=0.05)
    thickness = high - low + 2 * clearance
    height = (low + high) / 2
    half = np.sqrt(RADIUS**2 - height**2)
    slit = (END_FACE - np.sqrt((toe - clearance) ** 2 - half**2)) * thickness * RADIUS / half
    assert cut.area_mm2 == pytest.approx(2 * half * thickness + 2 * slit, rel=0.03)  # the growth's round edges left out


def ring_volume(shape: Section, grow: float) -> float:
    """Volume of a convex section grown by a distance g and turned right round, by Pappus: 2 pi times the integral of r.

    Over the polygon; over a strip on each side, its centroid g/2 out from the side's middle; and over a sector at each
    corner of turning angle f, area f g^2 / 2, its centroid (4 g / (3 f)) sin(f / 2) out along the bisector.
    """
    p, q = shape.points, np.roll(shape.points, -1, axis=0)
    cross = p[:, 0] * q[:, 1] - q[:, 0] * p[:, 1]
    first = ((p[:, 0] + q[:, 0]) * cross).sum() / 6
    side = q - p
    length = np.hypot(*side.T)
    out = np.stack([side[:, 1], -side[:, 0]], axis=1) / length[:, None]
    strips = (length * grow * ((p + q)[:, 0] / 2 + out[:, 0] * grow / 2)).sum()
    before = np.roll(out, 1, axis=0)
    turning = np.arccos(np.clip((before * out).sum(axis=1), -1, 1))
    bisector = (before + out) / np.linalg.norm(before + out, axis=1)[:, None]
    sectors = (
        turning * grow**2 / 2 * (p[:, 0] + bisector[:, 0] * 4 * grow / (3 * turning) * np.sin(turning / 2))
    ).sum()
    return float(2 * np.pi * (first + strips + sectors))


CONVEX = section((70, 20), (100, 30), (98, 45), (74, 41))


@pytest.mark.parametrize("grow", [0.0, 0.4, 7.0])
def test_half_a_grown_ring_inside_a_box(grow: float) -> None:
    """A box of twelve triangles that holds the ring's half beyond x = 0: its only common surface is that plane; all
    else of the box lies behind the ring as seen from its axis. So this proves the shadow and the growth's arcs."""
    vertices, triangles = box((0.0, -200.0, -100.0), (200.0, 200.0, 100.0))
    found = find_patch(vertices, triangles, GrownSweep(CONVEX, grow), share=1e-7)
    assert abs(found.volume_mm3 - ring_volume(CONVEX, grow) / 2) <= found.error_mm3
    assert found.error_mm3 <= 1e-6 * found.volume_mm3
    area = shapely.Polygon(CONVEX.points).buffer(grow, quad_segs=256).area
    assert found.area_mm2 == pytest.approx(2 * area, rel=0.015)  # distance taken linear on pieces of a few millimetres


@pytest.mark.parametrize("depth", [0.3, 4.0])
def test_half_a_shrunk_ring_inside_a_box(depth: float) -> None:
    """A negative clearance: what lies that deep inside the ring; convex, it shrinks to straight sides (shapely)."""
    vertices, triangles = box((0.0, -200.0, -100.0), (200.0, 200.0, 100.0))
    shrunk = np.asarray(shapely.Polygon(CONVEX.points).buffer(-depth, join_style="mitre").exterior.coords)[:-1]
    inner = Section(shrunk if shapely.LinearRing(shrunk).is_ccw else shrunk[::-1].copy(), ("side",) * len(shrunk))
    found = find_patch(vertices, triangles, GrownSweep(CONVEX, -depth), share=1e-7)
    assert abs(found.volume_mm3 - ring_volume(inner, 0.0) / 2) <= found.error_mm3 <= 1e-6 * found.volume_mm3


def test_nothing_to_cut_is_empty() -> None:
    boss = tube()
    gap = boss_gap(boss, RING)
    cut = relief(boss, RING, gap.lower_mm)
    assert cut.empty
    assert (cut.volume_mm3, cut.area_mm2, cut.depth_max_mm, cut.outline) == (0.0, 0.0, 0.0, ())
    assert not relief(boss, RING, gap.upper_mm + 1e-6).empty


def test_not_a_number_is_refused() -> None:
    with pytest.raises(InputError, match="a clearance of nan mm"):
        relief(tube(), RING, float("nan"))


@pytest.mark.parametrize("clearance", [0.5, 2.0])
def test_template_is_right_to_five_hundredths(clearance: float) -> None:
    """Half a tenth to either side of the outline, the boss's surface is further from and nearer to the ring than C."""
    boss = tube()
    cut = relief(boss, RING, clearance)
    (outline,) = cut.outline
    on_paper = shapely.Polygon(np.stack([outline[:, 1] * RADIUS, outline[:, 0]], axis=1))
    for shape, sign in ((on_paper.buffer(0.05), 1.0), (on_paper.buffer(-0.05), -1.0)):
        y, s = np.asarray(shape.exterior.segmentize(0.02).coords).T
        inside = s > 0.001
        surface = boss.seat.to_axle(from_polar(s[inside], np.array(RADIUS), y[inside] / RADIUS))
        assert (sign * (signed_distance(RING, meridian(surface)) - clearance) > 0).all()


def lopsided(hand: Hand) -> PlacedBoss:
    """The same real casting, mirrored with its axle: a block beside a bore, higher on the +Y side for one hand."""
    vertices, triangles = box((-20.0, -30.0, -30.0), (0.0, 24.0, 27.0))
    vertices = vertices + np.array([0.0, 0.0, 0.08]) * vertices[:, 1:2]
    if hand is Hand.ABOVE:
        vertices, triangles = vertices * [1.0, -1.0, 1.0], triangles[:, ::-1]
    return placed(vertices, triangles, bore=Bore(20.0, 0.0, 0.0, 0.0), seat=Seat(54.0, 50.0, hand))


def test_both_hands_are_mirror_twins() -> None:
    below, above = (relief(lopsided(hand), RING, 1.0) for hand in (Hand.BELOW, Hand.ABOVE))
    assert below.volume_mm3 > 10
    for name in ("volume_mm3", "area_mm2", "depth_radial_max_mm", "depth_axial_max_mm"):
        assert getattr(above, name) == pytest.approx(getattr(below, name), rel=1e-6), name
    assert above.depth_max_mm == pytest.approx(
        below.depth_max_mm, abs=above.depth_max_error_mm + below.depth_max_error_mm
    )
    assert above.depth_max_error_mm < 0.05
    assert above.depth_radial_clock == pytest.approx(-below.depth_radial_clock)
    assert abs(below.depth_radial_clock) > 0.3
    assert above.clocks == pytest.approx(-below.clocks[::-1])
    assert above.depth_radial_mm == pytest.approx(below.depth_radial_mm[:, ::-1], abs=1e-6)
    assert above.outline[0][:, 1].min() == pytest.approx(-below.outline[0][:, 1].max())


def test_a_patch_across_six_oclock_keeps_its_clocks_in_order() -> None:
    """The ring below the pinion axis instead of above: clocks run on past pi, the deepest is told within (-pi, pi]."""
    upside_down = section((10.0, -80.0), (200.0, -80.0), (200.0, -25.0), (10.0, -25.0))
    cut = relief(tube(offset=0.0), upside_down, 0.5)
    assert (np.diff(cut.clocks) > 0).all()
    assert cut.clocks[0] < np.pi < cut.clocks[-1]
    assert abs(cut.depth_radial_clock) == pytest.approx(np.pi, abs=0.02)
    assert cut.depth_radial_max_mm == pytest.approx(RADIUS - 24.5, abs=SAGITTA)


def test_facet_error_of_the_boss_is_in_the_figures() -> None:
    boss = tube()
    rough = PlacedBoss(replace(boss.mesh, short_mm=0.05), boss.seat)
    exact, told = relief(boss, RING, 1.0), relief(rough, RING, 1.0)
    assert told.volume_error_mm3 - exact.volume_error_mm3 == pytest.approx(0.05 * exact.area_mm2)
    assert told.depth_max_error_mm - exact.depth_max_error_mm == pytest.approx(0.05)


@pytest.mark.parametrize(("at", "slopes"), [(0.3137, (1.0, 0.18)), (0.77, (0.4, 0.9)), (0.0, (1.0, 1.0))])
def test_the_search_says_how_much_higher_a_ridge_may_be(at: float, slopes: tuple[float, float]) -> None:
    """A ridge of height 2 along x = at + y / 3, its sides sloping as given, and a cliff at x = 0.9: nine places a side
    to begin with. The true height is no more than the error above the one found."""

    def ridge(x: np.ndarray, y: np.ndarray) -> np.ndarray:
        off = x[:, None] - at - y[None, :] / 3
        height = 2.0 - np.where(off < 0, -slopes[0] * off, slopes[1] * off) - 0.2 * y[None, :] ** 2
        return np.where(x[:, None] > 0.9, 0.0, height)

    places = np.linspace(0, 1, 9)
    found = peak(ridge, places, places, scale_mm=(1.0, 1.0))
    assert found.value <= 2.0 + 1e-12
    assert found.value + found.error + 1e-12 >= 2.0
    assert found.error < 0.02
    assert (found.row, found.column) == pytest.approx((at, 0.0), abs=0.02)


def test_distance_to_triangles_by_trimesh() -> None:
    rng = np.random.default_rng(3)
    pieces, points = rng.normal(0, 5, (40, 3, 3)), rng.normal(0, 8, (60, 3))
    pieces[0, 2] = pieces[0, 1]  # no area
    nearest = [np.linalg.norm(closest_point(pieces[1:], np.broadcast_to(p, (39, 3))) - p, axis=1).min() for p in points]
    line = shapely.LineString(pieces[0, :2])
    assert distance_to(points, pieces[1:], np.full(60, 99.0)) == pytest.approx(nearest, abs=1e-9)
    flat_points = np.column_stack([points[:, :2], np.zeros(60)])
    flat_piece = np.column_stack([np.asarray([*line.coords, line.coords[-1]])[:, :2], np.zeros(3)])[None]
    away = shapely.distance(shapely.LineString(flat_piece[0, :, :2]), shapely.points(flat_points[:, :2]))
    assert distance_to(flat_points, flat_piece, np.full(60, 99.0)) == pytest.approx(away, abs=1e-9)


def test_a_cut_right_through_the_wall_reports_the_bore() -> None:
    cut = relief(tube(), flat(BORE + 0.5), 1.0)
    assert cut.depth_radial_max_mm == pytest.approx(RADIUS - BORE, abs=SAGITTA)
    assert cut.cut_radius_mm.min() == BORE
