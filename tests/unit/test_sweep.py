"""Signed distance, nearest place, growth, union and pose, against shapely and closed forms."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from gap_shapes import CONCAVE, NOSE, RING, SOLID, section, shapely_distance
from hypothesis import given
from hypothesis import strategies as st

from geartrack.errors import InputError
from geartrack.section import Section
from geartrack.sweep import Pose, grown, nearest, signed_distance, united, unposed

SQUARE = section((10, 0), (20, 0), (20, 10), (10, 10), edges=("tooth tips", "heel", "back face", "toe"))


@st.composite
def stars(draw: st.DrawFn) -> Section:
    """Simple polygons, mostly not convex: a radius drawn for each of some ascending angles about a centre."""
    radii = draw(st.lists(st.floats(2.0, 30.0), min_size=3, max_size=9))
    angles = np.arange(len(radii)) * 2 * np.pi / len(radii) + draw(st.floats(0, 6))
    points = np.stack([60 + radii * np.cos(angles), radii * np.sin(angles)], axis=1)
    return Section(points, tuple(f"edge {i}" for i in range(len(radii))))


@given(stars(), st.lists(st.tuples(st.floats(0, 120), st.floats(-60, 60)), min_size=1, max_size=20))
def test_signed_distance_agrees_with_shapely(shape: Section, points: list[tuple[float, float]]) -> None:
    cloud = np.array(points)
    expected = shapely_distance(shape, cloud)
    found = signed_distance(shape, cloud)
    assert np.abs(found) == pytest.approx(np.abs(expected), abs=1e-9)
    clearly = np.abs(expected) > 1e-9  # on the line itself the sign is a matter of rounding, on both sides
    assert (np.sign(found) == np.sign(expected))[clearly].all()


@given(stars())
def test_corners_and_edges_are_at_no_distance(shape: Section) -> None:
    on_edges = (shape.points + np.roll(shape.points, -1, axis=0)) / 2
    assert np.abs(signed_distance(shape, shape.points)).max() == 0
    assert np.abs(signed_distance(shape, on_edges)).max() < 1e-12


def test_inside_a_square_it_is_the_depth_to_the_nearest_side() -> None:
    """Closed form: least of the distances to the four sides; and level with corners, where a ray meets two edges."""
    for r, z, depth in ((15.0, 5.0, 5.0), (11.0, 5.0, 1.0), (15.0, 9.75, 0.25)):
        assert signed_distance(SQUARE, np.array([r, z])) == -depth
    level = np.array([[5.0, 0.0], [5.0, 10.0], [25.0, 0.0], [25.0, 10.0], [15.0, 10.0], [13.0, 14.0]])
    assert signed_distance(SQUARE, level).tolist() == [5.0, 5.0, 5.0, 5.0, 0.0, 4.0]


def test_an_edge_on_the_axis_is_no_surface() -> None:
    """A solid cylinder of radius 10 from z = 0 to 100: half-way up its axis the surface is 10 away, not 0."""
    bar = section((0, 0), (10, 0), (10, 100), (0, 100))
    depth = signed_distance(bar, np.array([[0.0, 50.0], [0.0, 3.0], [0.0, -4.0], [4.0, 50.0]]))
    assert depth.tolist() == [-10.0, -3.0, 4.0, -6.0]
    assert nearest(bar, np.array([0.0, 50.0])).edges == ("edge 1",)


def test_a_repeated_point_does_no_harm() -> None:
    twice = section((10, 0), (20, 0), (20, 0), (20, 10), (10, 10))
    points = np.random.default_rng(1).uniform(0, 30, (200, 2))
    assert (signed_distance(twice, points) == signed_distance(SQUARE, points)).all()
    assert nearest(twice, np.array([25.0, -5.0])).distance_mm == pytest.approx(np.sqrt(50))


def test_many_points_give_what_they_give_one_by_one() -> None:
    points = np.random.default_rng(2).uniform(60, 130, (20_000, 2))
    together = signed_distance(RING, points)
    picked = np.arange(0, len(points), 997)
    assert [float(signed_distance(RING, points[i])) for i in picked] == together[picked].tolist()
    assert signed_distance(RING, points.reshape(100, 200, 2)).shape == (100, 200)
    assert signed_distance(RING, np.empty((0, 2))).shape == (0,)


def test_a_point_that_is_no_number_is_refused() -> None:
    with pytest.raises(InputError, match="not a finite number"):
        signed_distance(RING, np.array([[80.0, 20.0], [np.nan, 3.0]]))


@pytest.mark.parametrize(
    ("point", "zone"),
    [
        ((80, 15), "toe corner"),
        ((100, 10), "tooth tips"),
        ((125, 5), "heel corner"),
        ((80, 28), "toe"),
        ((130, 22), "heel"),
        ((88, 50), "back face and bore corner"),
        ((100, 50), "back face"),
    ],
)
def test_zones_in_words(point: tuple[float, float], zone: str) -> None:
    found = nearest(RING, np.array(point, float))
    assert found.zone == zone
    assert np.hypot(*(found.point - point)) == pytest.approx(found.distance_mm)


@given(stars(), st.floats(0.01, 8.0), st.sampled_from([4, 32, 128]))
def test_growth_never_falls_short_and_is_hardly_over(shape: Section, by_mm: float, arc_segments: int) -> None:
    bigger = grown(shape, by_mm, arc_segments=arc_segments)
    outline = bigger.points[:, None] * [[[0.7], [0.3]]] + np.roll(bigger.points, -1, 0)[:, None] * [[[0.3], [0.7]]]
    away = signed_distance(shape, np.vstack([bigger.points, outline.reshape(-1, 2)]))
    assert away.min() >= by_mm * (1 - 1e-9)
    assert away.max() <= by_mm / np.cos(np.pi / (4 * arc_segments)) * (1 + 1e-9)


def test_growth_has_the_area_of_steiners_formula() -> None:
    """Closed form for a convex section: area + perimeter C + pi C^2; the growth may exceed its part by 2e-5."""
    before = shapely.Polygon(RING.points)
    for by_mm in (0.508, 3.0):
        after = shapely.Polygon(grown(RING, by_mm, arc_segments=128).points).area - before.area
        exact = before.length * by_mm + np.pi * by_mm**2
        assert exact <= after <= exact * (1 + 2e-5)


def test_growth_keeps_the_words_and_stays_off_the_axis() -> None:
    bigger = grown(RING, 0.5, arc_segments=16)
    assert {"toe corner", "heel corner", "toe", "tooth tips", "back face"} <= set(bigger.edges)
    assert nearest(bigger, np.array([80.0, 15.0])).zone == "toe corner"
    thin = grown(section((0.3, 0), (10, 0), (10, 5), (0.3, 5)), 1.0, arc_segments=16)
    assert thin.points[:, 0].min() == 0
    end = 2 + np.sqrt(1 - 0.3**2)  # the corner at r = 0.3, grown by 1, crosses the axis here
    assert float(signed_distance(thin, np.array([0.0, 2.0]))) == pytest.approx(-end, abs=0.005)
    assert grown(RING, 0.0, arc_segments=16) is RING
    for wrong in (-0.1, np.nan, np.inf):
        with pytest.raises(InputError, match="zero or more"):
            grown(RING, wrong, arc_segments=16)


def test_growth_closes_a_mouth_and_counts_what_is_behind_as_metal() -> None:
    """A C-shaped section whose mouth is 1 mm wide: grown by 0.6 it is shut, though a hole of 7 mm is left inside."""
    cup = section(
        (50, 0),
        (70, 0),
        (70, 20),
        (61, 20),
        (61, 15),
        (65, 15),
        (65, 5),
        (55, 5),
        (55, 15),
        (60, 15),
        (60, 20),
        (50, 20),
    )
    assert float(signed_distance(cup, np.array([60.5, 10.0]))) > 4
    assert float(signed_distance(grown(cup, 0.6, arc_segments=16), np.array([60.5, 10.0]))) < 0


def test_union_gives_the_true_depth_and_the_area_by_inclusion_and_exclusion() -> None:
    """Two 10 x 10 squares share a 4 x 10 strip: 160 mm2; its middle is 5 deep, but 2 in each square alone."""
    right = SQUARE.moved(dr_mm=6.0)
    (both,) = united((SQUARE, Section(right.points, right.edges, "carrier")))
    assert shapely.Polygon(both.points).area == pytest.approx(160)
    middle = np.array([18.0, 5.0])
    assert float(signed_distance(SQUARE, middle)) == -2
    assert float(signed_distance(both, middle)) == pytest.approx(-5)
    assert both.name == "ring and carrier"
    assert set(both.edges) == {"tooth tips", "heel", "back face", "toe"}


def test_union_of_bodies_apart_stays_two() -> None:
    apart = united((SQUARE, SQUARE.moved(dr_mm=40.0)))
    assert sorted(part.points[:, 0].min() for part in apart) == [10, 50]
    assert [part.name for part in apart] == ["ring", "ring"]


def test_union_of_solid_bodies_has_no_surface_on_the_axis() -> None:
    low, high = section((0, 0), (10, 0), (10, 8), (0, 8)), section((0, 5), (6, 5), (6, 30), (0, 30))
    (both,) = united((low, high))
    assert float(signed_distance(both, np.array([0.0, 20.0]))) == pytest.approx(-6)
    assert float(signed_distance(both, np.array([0.0, 6.0]))) == pytest.approx(-6)


@given(st.tuples(*[st.floats(-3, 3)] * 3), st.tuples(*[st.floats(-0.05, 0.05)] * 2))
def test_unposed_undoes_the_pose(shift: tuple[float, ...], tilt: tuple[float, ...]) -> None:
    """A point fixed to the ring goes to R p + shift, built here from the two turns written out (Y after X)."""
    (a, b), p = tilt, np.array([[80.0, -7.0, 20.0]])
    x, y, z = p[0, 0], p[0, 1] * np.cos(a) - p[0, 2] * np.sin(a), p[0, 1] * np.sin(a) + p[0, 2] * np.cos(a)
    gone = np.array([[x * np.cos(b) + z * np.sin(b), y, -x * np.sin(b) + z * np.cos(b)]]) + shift
    assert unposed(gone, Pose(*shift, *tilt)) == pytest.approx(p)


def test_signs_of_the_pose() -> None:
    """Ring lifted by 2: a boss point stands 2 lower to it. +tilt_x lifts the ring at +y: the point is lower there."""
    at = np.array([[0.0, 100.0, 10.0]])
    assert unposed(at, Pose(dz_mm=2.0))[0] == pytest.approx([0, 100, 8])
    assert unposed(at, Pose(tilt_x=0.01))[0, 2] == pytest.approx(10 - 100 * 0.01, abs=1e-3)
    assert unposed(np.array([[100.0, 0.0, 10.0]]), Pose(tilt_y=0.01))[0, 2] == pytest.approx(10 + 1, abs=1e-3)


def test_the_shared_sections_are_what_their_names_say() -> None:
    convex = {
        name: shapely.Polygon(s.points).convex_hull.area == pytest.approx(shapely.Polygon(s.points).area)
        for name, s in {"ring": RING, "concave": CONCAVE, "nose": NOSE, "solid": SOLID}.items()
    }
    assert convex == {"ring": True, "concave": False, "nose": True, "solid": True}
