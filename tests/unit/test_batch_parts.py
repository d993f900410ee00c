"""What the gaps of many placements are made of, each against shapely or brute force."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
import shapely
from gap_shapes import CONCAVE, NOSE, RING, SOLID, WAISTED, shapely_distance
from hypothesis import given, settings
from hypothesis import strategies as st

from geartrack.clearance.batch import _quartered, _sag
from geartrack.clearance.flat import apart, deepest, lower_bounds
from geartrack.clearance.groups import near_ones_together
from geartrack.clearance.outlines import outlines
from geartrack.clearance.pyramid import expanded, firsts, pyramid
from geartrack.section import Section

SHAPES = [RING, CONCAVE, NOSE, SOLID, WAISTED]


def scattered(shape: Section, count: int, seed: int, size_mm: float = 0.0) -> Any:
    """(r, z) of points (or of triangles' corners, (3, count)) about a section, r never under 0."""
    rng = np.random.default_rng(seed)
    low, high = shape.points.min(axis=0) - 8, shape.points.max(axis=0) + 8
    places = rng.uniform(low, high, (3 if size_mm else 1, count, 2) if not size_mm else (count, 2))
    if size_mm:
        places = places[None] + rng.uniform(-size_mm, size_mm, (3, count, 2))
    places[..., 0] = np.abs(places[..., 0])
    return (places[..., 0], places[..., 1]) if size_mm else (places[0, :, 0], places[0, :, 1])


@pytest.mark.parametrize("shape", SHAPES)
@pytest.mark.parametrize(("dtype", "slack_mm"), [(np.float64, 1e-9), (np.float32, 3e-4)])
def test_signed_distances_are_shapely_s(shape: Section, dtype: Any, slack_mm: float) -> None:
    rng = np.random.default_rng(0)
    corners = shape.points + rng.uniform(-3, 3, (40, 1, 2)) * np.array([0.0, 1.0])
    rows = np.sort(rng.integers(0, 40, 3000))
    r, z = scattered(shape, 3000, 1)
    found = outlines(corners, np.zeros((40, 2)), dtype).signed(rows, r.astype(dtype), z.astype(dtype))
    for row in range(40):
        at = rows == row
        moved = Section(corners[row], shape.edges)
        exact = shapely_distance(moved, np.stack([r[at], z[at]], axis=1))
        assert found[at] == pytest.approx(exact, abs=slack_mm)


@pytest.mark.parametrize("shape", SHAPES)
@pytest.mark.parametrize("size_mm", [0.3, 3.0, 30.0])
def test_triangles_apart_are_as_far_as_shapely_says_and_touch_where_it_does(shape: Section, size_mm: float) -> None:
    r, z = scattered(shape, 400, 2, size_mm)
    view = outlines(shape.points[None], np.zeros((1, 2)))
    rows = np.zeros(400, int)
    least, touching = apart(view, rows, r, z, np.full(400, 4 * size_mm))
    body = shapely.Polygon(shape.points)
    triangles = shapely.polygons(np.stack([r, z], axis=2).transpose(1, 0, 2))
    assert (touching == shapely.intersects(triangles, body)).all()
    exact = shapely.distance(triangles, body)
    assert least[~touching] == pytest.approx(exact[~touching], abs=1e-9)
    assert 40 < touching.sum() < 400


@pytest.mark.parametrize("shape", SHAPES)
@pytest.mark.parametrize("size_mm", [0.3, 3.0, 12.0])
def test_depths_in_contact_are_bounded_and_found(shape: Section, size_mm: float) -> None:
    """A grid of points of each triangle, their depth by shapely, is never under the bound and comes near to it."""
    r, z = scattered(shape, 300, 3, size_mm)
    view = outlines(np.repeat(shape.points[None], 300, axis=0), np.zeros((300, 2)))
    rows = np.arange(300)
    _, touching = apart(view, rows, r, z, np.full(300, 4 * size_mm))
    rows, r, z = rows[touching], r[:, touching], z[:, touching]
    once, taken = lower_bounds(view, rows, r, z)
    best = np.full(300, np.inf)
    found, bounds = deepest(view, rows, r, z, best, 0.001)
    least = np.full(300, np.inf)
    np.minimum.at(least, found, bounds)
    i, j = (a.ravel() for a in np.meshgrid(np.arange(41), np.arange(41), indexing="ij"))
    weights = np.stack([i, j, 40 - i - j])[:, i + j <= 40] / 40
    for k, row in enumerate(rows):
        points = np.stack([weights.T @ r[:, k], weights.T @ z[:, k]], axis=1)
        sampled = shapely_distance(shape, points).min()
        assert least[row] <= sampled + 1e-9
        assert once[k] <= sampled + 1e-9
        assert taken[k] >= least[row] - 1e-9
        assert least[row] >= sampled - 0.05 * size_mm  # the grid's own step
        assert best[row] - least[row] <= 0.001 + 1e-5


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 2**32 - 1), st.floats(0.05, 8.0), st.floats(5.0, 100.0))
def test_flat_triangles_hold_hypot_from_above_within_the_sag(seed: int, size_mm: float, r_mm: float) -> None:
    """r = hypot(x, y) over a triangle, however it is shifted, lies under its straight interpolation, by the sag at
    most; a triangle straight across the radius comes within a tenth of that."""
    rng = np.random.default_rng(seed)
    middle = r_mm * np.array([np.cos(seed), np.sin(seed), 0.0])
    pieces = middle + rng.uniform(-size_mm, size_mm, (30, 3, 3))
    sag = _sag(pieces, 1.0)
    weights = rng.dirichlet([0.7, 0.7, 0.7], 300)
    for angle in (0.0, 2.0, 4.0):
        shifted = pieces + np.array([np.cos(angle), np.sin(angle), 0.0])
        at = np.einsum("wc,tcx->twx", weights, shifted)
        under = np.hypot(shifted[..., 0], shifted[..., 1]) @ weights.T - np.hypot(at[..., 0], at[..., 1])
        assert (under >= -1e-9).all()
        assert (under <= sag[:, None] + 1e-9).all()


def test_the_sag_is_no_more_than_it_need_be() -> None:
    """A chord of length w square to the radius r: the circle stands w^2/(8 r) off it."""
    across = np.array([[[80.0, -0.2, 0.0], [80.0, 0.2, 0.0], [80.0, 0.0, 0.3]]])
    assert _sag(across, 0.0)[0] == pytest.approx(0.4**2 / (8 * 80), rel=0.05)


@settings(max_examples=30, deadline=None)
@given(st.integers(1, 400), st.integers(0, 2**32 - 1))
def test_every_ball_holds_the_balls_it_is_said_to_hold(count: int, seed: int) -> None:
    rng = np.random.default_rng(seed)
    centres, radii = rng.uniform(-50, 50, (count, 3)), rng.lognormal(-1, 1.5, count)
    made = pyramid(centres, radii)
    assert sorted(made.order) == list(range(count))
    bottom = made.levels[-1]
    assert np.stack(bottom.centres, axis=1) == pytest.approx(centres[made.order], abs=1e-5)
    for upper, below in zip(made.levels, made.levels[1:], strict=False):
        assert upper.first is not None
        assert upper.first[0] == 0
        assert upper.first[-1] == len(below.radii)
        of, held = expanded(upper.first[:-1], np.diff(upper.first), np.arange(len(upper.radii)))
        assert (held == np.arange(len(below.radii))).all()
        apart_ = np.linalg.norm(np.stack(upper.centres, 1)[of] - np.stack(below.centres, 1)[held], axis=1)
        assert (apart_ + below.radii <= upper.away + 1e-4).all()
        assert (upper.away <= upper.radii[of] + 1e-4).all()


def test_runs_and_numbers() -> None:
    assert firsts(np.array([2, 2, 5, 7, 7])).tolist() == [0, 2, 3]
    assert firsts(np.array([], int)).tolist() == []
    rows, numbers = expanded(np.array([10, 20, 30]), np.array([2, 0, 3]), np.array([4, 5, 6]))
    assert rows.tolist() == [4, 4, 6, 6, 6]
    assert numbers.tolist() == [10, 11, 30, 31, 32]


def test_groups_are_of_like_ones_and_hold_everyone_once() -> None:
    rng = np.random.default_rng(5)
    features = rng.normal(0, 1, (1000, 3)) * np.array([5.0, 1.0, 0.1])
    order = near_ones_together(features)
    assert sorted(order) == list(range(1000))
    parts = [features[order[i : i + 64], 0].std() for i in range(0, 1000, 64)]
    assert max(parts) < 0.6 * features[:, 0].std()


def test_four_quarters_are_the_whole_and_stay_together() -> None:
    rng = np.random.default_rng(6)
    pieces = rng.normal(0, 3, (20, 3, 3))

    def area(each: Any) -> Any:
        return np.linalg.norm(np.cross(each[:, 1] - each[:, 0], each[:, 2] - each[:, 0]), axis=1) / 2

    quarters = _quartered(pieces)
    assert area(quarters).reshape(20, 4) == pytest.approx(np.repeat(area(pieces)[:, None] / 4, 4, axis=1))
    middle = quarters.mean(axis=1).reshape(20, 4, 3).mean(axis=1)
    assert middle == pytest.approx(pieces.mean(axis=1))
