"""The gaps of many placements at once against the certified gap of each, and shapely's samples, whatever the shapes."""

from __future__ import annotations

from typing import Any

import numpy as np
from gap_shapes import CONCAVE, FLAT, NOSE, RING, SOLID, WAISTED, box, cylinder, joined, sampled_gap
from hypothesis import given, settings
from hypothesis import strategies as st

from geartrack.clearance import batch_gap, gap, prepare
from geartrack.section import Section
from geartrack.sweep import Pose
from geartrack.tolerances import TOLERANCES

WIDTH = TOLERANCES.gap_mm
LUMPY = joined(cylinder(27, 28, 50, 40), box((30, 62, -4), (47, 84, 21)))
SHAPES = [RING, CONCAVE, FLAT, NOSE, SOLID, WAISTED]


@st.composite
def placements(draw: st.DrawFn) -> Any:
    """A section's corners drawn about their places, near and far; shifts of the surface."""
    shape = draw(st.sampled_from(SHAPES))
    rng = np.random.default_rng(draw(st.integers(0, 2**32 - 1)))
    count, wide = draw(st.integers(1, 40)), draw(st.sampled_from([0.0, 0.05, 0.5, 3.0]))
    axis = shape.points[:, 0] == 0
    corners = shape.points + rng.uniform(-0.4, 0.4, (count, len(shape.points), 2)) * min(wide, 1.0)
    corners[:, axis, 0] = 0.0
    corners[..., 1] += draw(st.floats(-8, 4)) + rng.normal(0, 1, (count, 1)) * wide
    return shape, corners, rng.normal(0, 1, (count, 3)) * wide


@st.composite
def surfaces(draw: st.DrawFn) -> Any:
    """The lumpy boss, or a few loose triangles from a millimetre to the size of the ring."""
    if draw(st.booleans()):
        return LUMPY
    count, size = draw(st.integers(1, 6)), draw(st.sampled_from([1.0, 8.0, 60.0]))
    rng = np.random.default_rng(draw(st.integers(0, 2**32 - 1)))
    middle = rng.uniform([25, 30, 5], [80, 80, 40], (count, 1, 3))
    corners = middle + rng.uniform(-size, size, (count, 3, 3)) * np.array([0.5, 0.5, 1.0])
    return corners.reshape(-1, 3), np.arange(3 * count, dtype=np.int32).reshape(-1, 3)


@settings(max_examples=60, deadline=None)
@given(surfaces(), placements())
def test_each_row_brackets_the_gap_of_one(surface: Any, placed: Any) -> None:
    shape, corners, shifts = placed
    ready = prepare(*surface)
    low, high = batch_gap(ready, corners, shifts)
    for i in range(0, len(corners), 7):
        one = gap(ready, Section(corners[i], shape.edges), pose=Pose(*(-shifts[i])))
        assert low[i] <= one.upper_mm + 1e-9
        assert high[i] >= one.lower_mm - 1e-9
        away = np.hypot(*(surface[0][surface[1]].mean(axis=1) + shifts[i])[:, :2].T).min()
        if one.upper_mm - one.lower_mm <= WIDTH and away > 40:  # nearer the axis bounds may come wide
            assert high[i] - low[i] <= WIDTH


@settings(max_examples=15, deadline=None)
@given(placements())
def test_samples_are_never_under_the_lower_bound_and_come_near_the_upper(placed: Any) -> None:
    shape, corners, shifts = placed
    low, high = batch_gap(prepare(*LUMPY), corners, shifts)
    sampled = sampled_gap((LUMPY[0] + shifts[0], LUMPY[1]), Section(corners[0], shape.edges), 30)
    assert low[0] <= sampled + 1e-9
    assert high[0] >= sampled - 0.05  # the samples' own step, thirty a side of triangles up to 22 mm


@settings(max_examples=20, deadline=None)
@given(placements(), st.floats(-2, 2))
def test_up_is_up_for_all(placed: Any, up_mm: float) -> None:
    """Section and boss moved along the axis together: the same gaps; and a mirror image in y has the same."""
    _, corners, shifts = placed
    low, high = batch_gap(prepare(*LUMPY), corners, shifts)
    both = batch_gap(prepare(*LUMPY), corners + np.array([0.0, up_mm]), shifts + np.array([0.0, 0.0, up_mm]))
    flip = np.array([1.0, -1.0, 1.0])
    mirrored = batch_gap(prepare(LUMPY[0] * flip, LUMPY[1]), corners, shifts * flip)
    for other_low, other_high in (both, mirrored):
        assert (other_low <= high + 1e-9).all()
        assert (other_high >= low - 1e-9).all()


@settings(max_examples=20, deadline=None)
@given(placements(), st.integers(0, 2**32 - 1))
def test_a_gap_changes_by_no_more_than_things_move(placed: Any, seed: int) -> None:
    _, corners, shifts = placed
    rng = np.random.default_rng(seed)
    moved_corner = rng.uniform(-0.3, 0.3, corners.shape) * (corners[:, :, :1] > 0)
    moved_shift = rng.uniform(-0.3, 0.3, shifts.shape)
    low, high = batch_gap(prepare(*LUMPY), corners, shifts)
    other_low, other_high = batch_gap(prepare(*LUMPY), corners + moved_corner, shifts + moved_shift)
    most = np.linalg.norm(moved_corner, axis=2).max(axis=1) + np.linalg.norm(moved_shift, axis=1)
    assert (other_low <= high + most + 1e-9).all()
    assert (other_high >= low - most - 1e-9).all()
