"""Meshes made whole: planted faults undone, and what a filling may be off by against closed forms."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
import trimesh
from scan_files_made import FACES, TETRA
from scan_shapes import ball, without

from geartrack.boss.scan.heal import Healed, healed


def made_whole(vertices: Any, faces: Any) -> Healed:
    vertices, faces = np.asarray(vertices, float), np.asarray(faces, np.int32)
    before = vertices.copy(), faces.copy()
    whole = healed(vertices, faces)
    assert np.array_equal(vertices, before[0])
    assert np.array_equal(faces, before[1])
    return whole


def volume(whole: Healed) -> float:
    """By trimesh, and by manifold3d, which refuses what is not closed."""
    from manifold3d import Error, Manifold, Mesh64

    solid = Manifold(Mesh64(whole.vertices, whole.triangles.astype(np.uint64)))
    assert solid.status() == Error.NoError
    theirs = float(trimesh.Trimesh(whole.vertices, whole.triangles, process=False).volume)
    assert solid.volume() == pytest.approx(theirs, rel=1e-6)
    return theirs


def test_what_is_whole_stays_as_it_is() -> None:
    made = ball()
    whole = made_whole(made.vertices, made.faces)
    assert whole.closed
    assert whole.notes == ()
    assert whole.fills == ()
    assert np.array_equal(whole.vertices[whole.triangles], made.vertices[made.faces])


@pytest.mark.parametrize("share", [0.1, 0.45, 1.0])
def test_turned_triangles_are_turned_back(share: float) -> None:
    """Every triangle as it was made, also where all of them were turned: the volume tells."""
    made = ball(fine=4)
    back = np.random.default_rng(2).random(len(made.faces)) < share
    faces = made.faces.copy()
    faces[back] = faces[back][:, ::-1]
    whole = made_whole(made.vertices, faces)
    assert whole.closed
    assert volume(whole) == pytest.approx(made.volume)
    normals = np.einsum("ij,ij->i", made.triangles_center, made.face_normals)
    assert (normals > 0).all()
    mine = trimesh.Trimesh(whole.vertices, whole.triangles, process=False)
    assert (np.einsum("ij,ij->i", mine.triangles_center, mine.face_normals) > 0).all()


@pytest.mark.parametrize("height", [44.0, 40.0, 20.0, 5.0])
def test_a_round_hole_in_a_ball_is_off_by_its_cap(height: float) -> None:
    """A cap h high cut off a sphere R: off by h, the volume by pi h^2 (3R - h)/3; the rim is jagged by an edge."""
    made = ball()
    keep = made.triangles_center[:, 2] < height
    whole = made_whole(made.vertices, made.faces[keep])
    assert whole.closed
    assert len(whole.fills) == 1
    fill, cap = whole.fills[0], 45.0 - height
    edge = made.edges_unique_length.max()
    jagged = edge * np.sqrt(1 - (height / 45) ** 2)  # a rim's teeth stand out from its plane by so much
    assert cap - jagged < fill.off_mm < 1.2 * cap + 2 * jagged
    lost = np.pi * cap**2 * (135 - cap) / 3
    assert made.volume - volume(whole) == pytest.approx(lost, abs=np.pi * (45**2 - height**2) * jagged)
    assert made.volume - volume(whole) < fill.area_mm2 * fill.off_mm
    assert fill.centre_mm == pytest.approx((0, 0, height), abs=edge)


def test_two_tubes_one_in_the_other_become_one_wall() -> None:
    """An outside and a bore, both open at both ends: pi (R^2 - r^2) L, the polygon's share of it."""
    outer = trimesh.creation.cylinder(radius=27, height=40, sections=200)
    bore = trimesh.creation.cylinder(radius=19, height=40, sections=200)
    bore.invert()
    wall = trimesh.util.concatenate(
        [part.submesh([np.abs(part.face_normals[:, 2]) < 0.5])[0] for part in (outer, bore)]
    )
    whole = made_whole(wall.vertices, wall.faces)
    assert whole.closed
    assert len(whole.fills) == 2
    polygon = 100 * np.sin(2 * np.pi / 200)
    assert volume(whole) == pytest.approx(polygon * (27**2 - 19**2) * 40)
    assert [fill.area_mm2 for fill in whole.fills] == pytest.approx([polygon * (27**2 - 19**2)] * 2)


def test_two_holes_that_touch_in_a_point() -> None:
    made = ball(fine=3)
    around = made.vertex_faces[200]
    around = around[around >= 0]
    first = set(made.faces[around[0]])
    across = next(i for i in around if set(made.faces[i]) & first == {200})  # meets the first in that vertex only
    lost = [around[0], across]
    whole = made_whole(made.vertices, np.delete(made.faces, lost, axis=0))
    assert whole.closed
    assert len(whole.fills) == 1  # the surface comes apart there, so the two rims are one
    assert volume(whole) == pytest.approx(made.volume, rel=1e-9)


def test_a_flap_and_specks_are_left_out() -> None:
    made = ball(fine=3)
    a, b = made.edges[0]
    flap = made.vertices[a] * 0.5
    speck = trimesh.creation.box((2, 2, 2)).apply_translation([90, 0, 0])
    vertices = np.concatenate([made.vertices, [flap], speck.vertices])
    faces = np.concatenate([made.faces, [[a, b, len(made.vertices)]], speck.faces + len(made.vertices) + 1])
    whole = made_whole(vertices, faces)
    assert whole.closed
    assert any(note.startswith("1 specks") for note in whole.notes)
    assert any("more than two share" in note for note in whole.notes)
    assert volume(whole) == pytest.approx(made.volume, rel=0.01)


def test_what_has_no_inside_is_said_to_have_none() -> None:
    turn = np.linspace(0, 2 * np.pi, 60, endpoint=False)
    points = [
        np.stack([(50 + s * np.cos(turn / 2)) * np.cos(turn), (50 + s * np.cos(turn / 2)) * np.sin(turn)], axis=1)
        for s in (-8, 8)
    ]
    heights = [s * np.sin(turn / 2) for s in (-8, 8)]
    vertices = np.concatenate([np.column_stack(pair) for pair in zip(points, heights, strict=True)])
    i = np.arange(60)
    low, high = np.where(i == 59, 60, i + 1), np.where(i == 59, 0, 61 + i)
    whole = made_whole(vertices, np.concatenate([np.stack([i, low, high], 1), np.stack([i, high, 60 + i], 1)]))
    assert not whole.closed
    nothing = made_whole(TETRA, FACES[:0])
    assert not nothing.closed
    fan = [[0, 1, 2], [0, 1, 3], [1, 0, 2], [0, 1, 3]]  # every edge doubled over: nothing is left
    assert not made_whole(TETRA, fan).closed


@pytest.mark.parametrize("seed", range(6))
def test_a_surface_shot_full_of_holes_is_closed_again(seed: int) -> None:
    """Rims that touch in many points: it closes, and by less than the fillings' own error."""
    rng = np.random.default_rng(seed)
    made = ball(fine=4)
    faces = made.faces[rng.random(len(made.faces)) > 0.15]
    back = rng.random(len(faces)) < 0.3
    faces[back] = faces[back][:, ::-1]
    whole = made_whole(made.vertices, faces)
    assert whole.closed
    assert len(whole.fills) > 50
    missing = made.volume - volume(whole)
    assert abs(missing) < sum(fill.area_mm2 * fill.off_mm for fill in whole.fills)
    assert abs(missing) < 0.01 * made.volume


def test_a_hole_of_one_vertex_each() -> None:
    made = ball(fine=4)
    whole = made_whole(made.vertices, without(made.faces, 5, 900, 2000))
    assert whole.closed
    assert len(whole.fills) == 3
    assert max(fill.off_mm for fill in whole.fills) < 0.5
