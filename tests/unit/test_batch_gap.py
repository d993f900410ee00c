"""The gaps of many placements at once: closed forms, edges of no length, shifts, and what is refused."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from gap_shapes import FLAT, OFFSET, RING, SOLID, box, cylinder, joined, sphere

from geartrack.clearance import batch, batch_gap, gap, groups, prepare
from geartrack.errors import InputError
from geartrack.section import Section
from geartrack.sweep import Pose
from geartrack.tolerances import TOLERANCES, Tolerances

WIDTH = TOLERANCES.gap_mm


def lowered(shape: Section, down_mm: Any) -> Any:
    """Corners (n, k, 2) of a section brought down by (n,)."""
    down = np.asarray(down_mm, float)
    return shape.points - down[:, None, None] * np.array([0.0, 1.0])


def assert_brackets(bounds: Any, exact: Any) -> None:
    low, high = bounds
    assert (high - low <= WIDTH).all()
    assert (low <= np.asarray(exact) + 1e-9).all()
    assert (high >= np.asarray(exact) - 1e-9).all()


DOWN = np.concatenate([np.linspace(0.0, 4.0, 300), [1.0, 1.0 - 1e-9, 0.9999, 1.0001]])


@pytest.mark.parametrize("around", [12, 60, 517])
def test_cylinder_beside_a_flat_ring(around: int) -> None:
    """A ring with a flat face at z = 28, a cylinder of radius 27 beside it: 1 mm less what the ring came down, apart
    and in contact alike (a corner of the facets stands straight at the ring)."""
    down = DOWN if around < 500 else DOWN[::7]
    assert_brackets(batch_gap(prepare(*cylinder(27, 28, 50, around)), lowered(FLAT, down)), 1.0 - down)


def test_spheres_off_the_cone_of_tooth_tips() -> None:
    """A sphere of radius 9 moved about: its centre stands off the tip cone by its distance to a line in the half-plane,
    so its gap is that less 9, up to how far its facets fall short."""
    start, end = RING.points[0], RING.points[1]
    square = np.array([end[1] - start[1], -(end[0] - start[0])]) / np.linalg.norm(end - start)
    foot = (start + end) / 2
    centre = foot + (9 + 0.5) * square
    vertices, triangles, short = sphere((centre[0], 0.0, centre[1]), 9.0, 4)
    rng = np.random.default_rng(1)
    shifts = rng.uniform(-1.5, 1.5, (500, 3))
    r = np.hypot(centre[0] + shifts[:, 0], shifts[:, 1])
    exact = np.stack([r, centre[1] + shifts[:, 2]], axis=1) - foot
    exact = exact @ square - 9
    assert (exact < 0).any()
    assert (exact > 0).any()
    low, high = batch_gap(prepare(vertices, triangles), lowered(RING, np.zeros(500)), shifts)
    assert (high - low <= WIDTH).all()
    assert (low <= exact + short + 1e-9).all()
    assert (high >= exact - 1e-9).all()


def test_a_ring_s_corner_over_a_flat_and_inside_it() -> None:
    """A pad's flat top at z = 20 under the ring's toe corner: apart the gap is the height between. Over it the ring's
    corner dips into the flat by d; its two sides then leave the top, and the deepest point of the flat lies under the
    corner, at d times the smaller sine of the sides' slopes from the vertical."""
    wedge = Section(np.array([(80.0, 20.0), (110.0, 50.0), (50.0, 50.0)]), ("a", "b", "c"))  # sides at 45 degrees
    pad = box((60.0, -40.0, 5.0), (100.0, 40.0, 20.0))
    down = np.linspace(-1.0, 1.0, 201)
    exact = np.where(down < 0, -down, -down / np.sqrt(2))
    assert_brackets(batch_gap(prepare(*pad), lowered(wedge, down)), exact)


def test_edges_of_no_length_and_long_straight_corners_change_nothing() -> None:
    surface = prepare(*cylinder(27, 28, 50, 60))
    corners = lowered(RING, np.linspace(0, 3, 40))
    plain = batch_gap(surface, corners)
    doubled = np.repeat(corners, 2, axis=1)
    with_middles = np.stack([corners, (corners + np.roll(corners, -1, axis=1)) / 2], axis=2).reshape(40, -1, 2)
    for other in (doubled, with_middles):
        for bound, same in zip(batch_gap(surface, other), plain, strict=True):
            assert bound == pytest.approx(same, abs=WIDTH)


def test_a_shift_is_the_ring_moved_the_other_way() -> None:
    boss = joined(cylinder(27, 28, 50, 40), box((30, 62, -4), (47, 84, 21)))
    rng = np.random.default_rng(3)
    shifts = rng.normal(0, 1.0, (64, 3))
    low, high = batch_gap(prepare(*boss), lowered(RING, np.zeros(64)), shifts)
    for i in range(64):
        moved = prepare(boss[0] + shifts[i], boss[1])
        assert_brackets(
            (low[i : i + 1], high[i : i + 1]), gap(moved, RING, tolerances=Tolerances(gap_mm=1e-6)).upper_mm
        )
        posed = gap(prepare(*boss), RING, pose=Pose(*(-shifts[i])))
        assert low[i] <= posed.upper_mm
        assert high[i] >= posed.lower_mm


def test_one_row_and_none() -> None:
    surface = prepare(*cylinder(27, 28, 50, 60))
    assert_brackets(batch_gap(surface, lowered(FLAT, [0.0])), [1.0])
    low, high = batch_gap(surface, np.empty((0, 4, 2)))
    assert len(low) == len(high) == 0


def test_rows_do_not_depend_on_their_company(monkeypatch: pytest.MonkeyPatch) -> None:
    """Groups, blocks and their order are the machine's business: any other split gives bounds of the same gaps."""
    surface = prepare(*joined(cylinder(27, 28, 50, 40), box((30, 62, -4), (47, 84, 21))))
    rng = np.random.default_rng(8)
    corners = lowered(RING, rng.normal(1, 1.5, 300)) + rng.normal(0, 0.1, (300, 6, 2))
    shifts = rng.normal(0, 0.5, (300, 3))
    whole = batch_gap(surface, corners, shifts)
    monkeypatch.setattr(groups, "_GROUP", 5)
    monkeypatch.setattr(batch, "_MOST_PAIRS", 3000)
    monkeypatch.setattr(batch, "_AT_ONCE", 101)
    monkeypatch.setattr(batch, "_PAIRS", 50)
    order = rng.permutation(300)
    low, high = batch_gap(surface, corners[order], shifts[order])
    assert (low <= whole[1][order]).all()
    assert (high >= whole[0][order]).all()
    assert (high - low <= WIDTH).all()


def test_a_wider_tolerance_is_kept_to_and_asked_for_less() -> None:
    surface = prepare(*cylinder(27, 28, 50, 40))
    corners = lowered(RING, np.linspace(0, 3, 100))
    fine = batch_gap(surface, corners, tolerances=Tolerances(gap_mm=1e-4))
    assert (fine[1] - fine[0] <= 1e-4).all()
    for tolerance in (0.001, 0.02, 0.3):
        low, high = batch_gap(surface, corners, tolerances=Tolerances(gap_mm=tolerance))
        assert (high - low <= tolerance).all()
        assert (low <= fine[1]).all()
        assert (high >= fine[0]).all()


def test_a_surface_across_the_ring_s_axis_is_still_bracketed() -> None:
    """Near the axis hypot bends without limit, and a section may reach the axis: bounds may widen, never miss."""
    plate = box((-20.0, -15.0, 10.0), (25.0, 18.0, 19.0))
    down = np.linspace(-2.0, 3.0, 60)
    low, high = batch_gap(prepare(*plate), lowered(SOLID, down))
    for i in range(0, 60, 7):
        exact = gap(prepare(*plate), SOLID.moved(dz_mm=-down[i]))
        assert low[i] <= exact.upper_mm
        assert high[i] >= exact.lower_mm


NAN = np.full((2, 4, 2), np.nan)


@pytest.mark.parametrize(
    ("corners", "shifts"),
    [
        (NAN, None),
        (lowered(FLAT, [0.0, 0.0]), np.array([[0.0, 0.0, np.inf]] * 2)),
        (lowered(FLAT, [0.0, 0.0]), np.zeros((3, 3))),
        (lowered(FLAT, [0.0, 0.0]), np.zeros((2, 2))),
        (lowered(FLAT, [0.0, 0.0])[:, :2], None),
        (lowered(FLAT, [0.0, 0.0]) - np.array([100.0, 0.0]), None),
        (FLAT.points, None),
    ],
)
def test_what_cannot_be_placed_is_refused(corners: Any, shifts: Any) -> None:
    with pytest.raises(InputError, match="placements"):
        batch_gap(prepare(*cylinder(27, 28, 50, 60)), corners, shifts)


def test_the_pinion_axis_is_where_the_tests_think() -> None:
    """The shapes above stand about y = OFFSET; a ring far off in r sees the same as one lowered far away."""
    assert cylinder(27, 28, 50, 60)[0][:, 1].mean() == pytest.approx(OFFSET)
