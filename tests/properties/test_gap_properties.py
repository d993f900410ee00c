"""What the gap must keep to whatever the shapes: its bounds, Lipschitz, symmetry, both hands."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
import trimesh
from gap_shapes import (
    CONCAVE,
    END_FACE,
    FLAT,
    NOSE,
    OFFSET,
    RING,
    SOLID,
    WAISTED,
    box,
    cylinder,
    joined,
    placed,
    sampled_gap,
)
from hypothesis import given, settings
from hypothesis import strategies as st

from geartrack.boss.mesh import PlacedBoss
from geartrack.clearance import boss_gap, gap, pinion_gap, prepare
from geartrack.frame import Hand, Seat, polar
from geartrack.section import Section
from geartrack.sweep import Pose, signed_distance
from geartrack.tolerances import TOLERANCES

WIDTH = TOLERANCES.gap_mm
LUMPY = joined(cylinder(27, 28, 50, 40), box((30, 62, -4), (47, 84, 21)))  # unsymmetrical about the pinion axis


@st.composite
def rings(draw: st.DrawFn) -> Section:
    """Sections of the tests, or a star-shaped polygon with reflex corners, moved about."""
    if draw(st.booleans()):
        shape = draw(st.sampled_from([RING, CONCAVE, FLAT, NOSE, SOLID, WAISTED]))
        return shape.moved(dz_mm=draw(st.floats(-20, 5)))
    radii = np.array(draw(st.lists(st.floats(3, 25), min_size=4, max_size=9)))
    angles = np.arange(len(radii)) * 2 * np.pi / len(radii) + draw(st.floats(0, 6))
    points = np.stack([80 + radii * np.cos(angles), 25 + radii * np.sin(angles)], axis=1)
    return Section(points, tuple(f"edge {i}" for i in range(len(radii))))


@st.composite
def patches(draw: st.DrawFn) -> Any:
    """Up to six loose triangles from half a millimetre to the size of the ring, even across the ring's axis."""
    count, size = draw(st.integers(1, 6)), draw(st.sampled_from([0.5, 5.0, 40.0, 120.0]))
    rng = np.random.default_rng(draw(st.integers(0, 2**32 - 1)))
    middle = rng.uniform([-30, 20, 5], [80, 80, 40], (count, 1, 3))
    corners = middle + rng.uniform(-size, size, (count, 3, 3))
    return corners.reshape(-1, 3), np.arange(3 * count, dtype=np.int32).reshape(-1, 3)


@settings(max_examples=100)
@given(patches(), rings())
def test_bounds_hold_samples_and_are_attained(surface: Any, ring: Section) -> None:
    """Samples by shapely never fall under the lower bound; the upper one is the distance of a point of the surface;
    and since distance is 1-Lipschitz, the lower bound is not further under the samples than they are apart."""
    found, sampled = gap(prepare(*surface), ring), sampled_gap(surface, ring, 30)
    corners = surface[0][surface[1]]
    apart = np.linalg.norm(corners - np.roll(corners, 1, axis=1), axis=2).max() / 30
    assert found.lower_mm <= sampled + 1e-9
    assert found.upper_mm <= sampled + WIDTH + 1e-9
    assert found.lower_mm >= sampled - apart - WIDTH - 1e-9
    assert found.upper_mm - found.lower_mm <= WIDTH + 1e-12
    flat = np.array([np.hypot(*found.point[:2]), found.point[2]])
    assert float(signed_distance(ring, flat)) == pytest.approx(found.upper_mm, abs=1e-9)
    on_surface = trimesh.triangles.closest_point(corners, np.tile(found.point, (len(corners), 1)))
    assert np.linalg.norm(on_surface - found.point, axis=1).min() < 1e-9


@settings(max_examples=40)
@given(rings(), st.tuples(*[st.floats(-2, 2)] * 3))
def test_a_move_changes_the_gap_by_no_more_than_its_length(ring: Section, move: tuple[float, ...]) -> None:
    there = gap(prepare(LUMPY[0] + move, LUMPY[1]), ring)
    here = gap(prepare(*LUMPY), ring)
    assert abs(there.upper_mm - here.upper_mm) <= np.linalg.norm(move) + WIDTH


@settings(max_examples=40)
@given(rings(), st.floats(-np.pi, np.pi))
def test_turning_the_scene_about_the_ring_axis_changes_nothing(ring: Section, angle: float) -> None:
    c, s = np.cos(angle), np.sin(angle)
    turned = LUMPY[0] @ np.array([[c, s, 0], [-s, c, 0], [0, 0, 1]])
    assert abs(gap(prepare(turned, LUMPY[1]), ring).upper_mm - gap(prepare(*LUMPY), ring).upper_mm) <= WIDTH


@settings(max_examples=30)
@given(rings(), st.tuples(*[st.floats(-1, 1)] * 3), st.tuples(*[st.floats(-0.02, 0.02)] * 2))
def test_a_posed_ring_is_the_boss_carried_the_other_way(
    ring: Section, shift: tuple[float, ...], tilt: tuple[float, ...]
) -> None:
    """Boss and ring carried along by the same pose: nothing changed. The carrying is by trimesh's rotation matrices."""
    turn = trimesh.transformations.rotation_matrix(tilt[1], [0, 1, 0]) @ trimesh.transformations.rotation_matrix(
        tilt[0], [1, 0, 0]
    )
    carried = trimesh.transform_points(LUMPY[0], turn) + shift
    along = gap(prepare(carried, LUMPY[1]), ring, pose=Pose(*shift, *tilt))
    assert abs(along.upper_mm - gap(prepare(*LUMPY), ring).upper_mm) <= WIDTH + 1e-9


@settings(max_examples=40)
@given(rings(), patches())
def test_more_metal_never_adds_to_the_gap(ring: Section, more: Any) -> None:
    alone, both = gap(prepare(*LUMPY), ring), gap(prepare(*joined(LUMPY, more)), ring)
    assert both.lower_mm <= alone.upper_mm + 1e-12
    assert both.upper_mm <= min(alone.upper_mm, gap(prepare(*more), ring).upper_mm) + WIDTH


@settings(max_examples=40)
@given(rings(), patches())
def test_two_meshes_of_one_surface_agree(ring: Section, surface: Any) -> None:
    """Each triangle cut into 16 by trimesh: the same surface, so both pairs of bounds hold the same number."""
    finer = trimesh.remesh.subdivide(*trimesh.remesh.subdivide(*surface))
    one, other = gap(prepare(*surface), ring), gap(prepare(finer[0], finer[1].astype(np.int32)), ring)
    assert max(one.lower_mm, other.lower_mm) <= min(one.upper_mm, other.upper_mm) + 1e-9


def twins() -> tuple[PlacedBoss, PlacedBoss]:
    """An unsymmetrical boss of an axle with its pinion below, and the mirror image of the part in a mirrored axle."""
    below = placed(LUMPY)
    mirrored = replace(
        below.mesh,
        vertices=below.mesh.vertices * [1, -1, 1],
        triangles=np.ascontiguousarray(below.mesh.triangles[:, ::-1]),
    )
    return below, PlacedBoss(mirrored, Seat(OFFSET, END_FACE, Hand.ABOVE))


@settings(max_examples=30)
@given(rings())
def test_mirror_twins_have_the_same_gap_and_mirrored_marks(ring: Section) -> None:
    below, above = twins()
    one, other = boss_gap(below, ring), boss_gap(above, ring)
    assert one.upper_mm == pytest.approx(other.upper_mm, abs=1e-9)
    (s1, q1, t1), (s2, q2, t2) = (
        polar(boss.seat.to_boss(found.point)) for boss, found in ((below, one), (above, other))
    )
    assert (s1, q1, t1) == pytest.approx((s2, q2, -t2), abs=1e-6)


def test_the_same_part_in_the_other_hand_is_another_answer() -> None:
    """So that mirroring neither twice nor not at all can go unseen: the block away from the ring's centre line now lies
    on the near side, inside the ring's bore, well away from its teeth."""
    below, _ = twins()
    wrong = PlacedBoss(below.mesh, Seat(OFFSET, END_FACE, Hand.ABOVE))
    right_mm, wrong_mm = (boss_gap(boss, RING.moved(dz_mm=-2)).nominal_mm for boss in (below, wrong))
    assert right_mm < -1
    assert wrong_mm > right_mm + 0.5
    clock = polar(below.seat.to_boss(boss_gap(below, RING.moved(dz_mm=-2)).point))[2]
    assert 0 < clock < np.pi / 2 + 0.1


@settings(max_examples=20)
@given(st.floats(0, 2 * np.pi), st.floats(-5, 15))
def test_the_pinion_gap_does_not_change_when_the_boss_turns_about_the_pinion(angle: float, down_mm: float) -> None:
    vertices, triangles = joined(LUMPY, box((45, OFFSET + 5, 2), (62, OFFSET + 12, 12)))
    c, s = np.cos(angle), np.sin(angle)
    turned = (vertices - [0, OFFSET, 0]) @ np.array([[1, 0, 0], [0, c, s], [0, -s, c]]) + [0, OFFSET, 0]
    head = Section(np.array([[0, 55.0], [20, 58], [30, 80], [0, 90]]), ("front", "cone", "back", "axis"), "pinion")
    head = head.moved(dz_mm=-down_mm)
    one, other = (pinion_gap(placed((v, triangles)), head).upper_mm for v in (vertices, turned))
    assert abs(one - other) <= WIDTH
