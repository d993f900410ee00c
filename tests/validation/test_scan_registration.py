"""Scans of castings made by a B-rep kernel (OpenCASCADE) in known poses: datums, frame, hand and gap; refusals."""

from __future__ import annotations

import math
from functools import lru_cache
from typing import Any

import numpy as np
import pytest
import scan_cases
import scan_castings as castings
import trimesh

from geartrack.boss.mesh import Bore
from geartrack.boss.scan.datums import located
from geartrack.boss.scan.from_scan import boss_from_scan
from geartrack.boss.scan.pose import register
from geartrack.errors import InputError
from geartrack.frame import Hand

RING_MM = 240.0


@lru_cache(maxsize=4)
def case_scan(strays: float = 0.0, mirrored: bool = False, diameter: float | None = 38.0) -> Any:
    points, faces = castings.clean_scan("case", 2.0)
    scan = castings.scanned(points, faces, seed=11, strays=strays, flipped=0.1, mirrored=mirrored)
    return scan, located(scan[0], scan[1], bore_diameter_mm=diameter)


@pytest.mark.parametrize("strays", [0.0, 0.2])
@pytest.mark.parametrize("diameter", [38.0, None])
def test_bore_and_ring_axis_of_a_whole_case(strays: float, diameter: float | None) -> None:
    """The bore's and the ring's axis as they were modelled; with 0.02 mm of noise to well within a hundredth."""
    (_, _, rotation, shift), (_, datums) = case_scan(strays, False, diameter)
    assert datums.bore.radii_mm[0] == pytest.approx(castings.BORE_DIAMETER / 2, abs=0.01)
    assert castings.angle_apart(datums.bore.axis, rotation @ [1, 0, 0]) < 5e-4
    at = (datums.bore.point - shift) @ rotation
    assert np.hypot(at[1], at[2]) < 0.01
    assert datums.ring is not None
    assert castings.angle_apart(datums.ring.axis, rotation @ [0, 0, 1]) < 2e-4
    assert datums.ring.radii_mm == pytest.approx((castings.SIDE_BORE / 2,) * 2, abs=0.02)
    assert datums.bottom in ("low", "high")  # the bore is blind


@pytest.mark.parametrize("hand", list(Hand))
def test_offset_and_end_face_are_measured_from_the_ring_axis(hand: Hand) -> None:
    scan, (seen, datums) = case_scan()
    found = register(seen, datums, hand=hand, ring_diameter_mm=RING_MM)
    assert found.offset_mm is not None
    assert found.end_face_mm is not None
    assert abs(found.offset_mm[0] - castings.OFFSET) <= found.offset_mm[1]
    assert abs(found.end_face_mm[0] - castings.END_FACE) <= found.end_face_mm[1]
    assert max(found.offset_mm[1], found.end_face_mm[1]) < 0.1
    assert found.bore_depth_mm == pytest.approx(castings.BORE_DEPTH, abs=0.1)
    assert found.pose is not None
    turned = found.pose.rotation @ scan[2]
    # the hand that was modelled sees the boss frame, the other sees Y and Z turned half round X
    expected = np.diag([1, 1, 1]) if hand is Hand.BELOW else np.diag([1, -1, -1])
    assert np.abs(turned - expected).max() < 1e-3
    at = (found.pose.origin - scan[3]) @ scan[2]
    limits = np.array([found.pose.along_mm, found.pose.across_mm, found.pose.toward_mm])
    assert (np.abs(at) <= limits).all()


FLANGE = (55.0, 67.0)  # the two sides of what the pinion support bolts to, from the end face (tests/scan_castings.py)


@pytest.mark.parametrize("strays", [0.0, 0.2])
def test_the_pinion_support_s_face_is_the_flange_s_further_side(strays: float) -> None:
    _, (seen, datums) = case_scan(strays)
    found = register(seen, datums, hand=Hand.BELOW)
    assert found.support is not None
    assert found.support_mm is not None
    assert abs(found.support.beyond_mm[0] - FLANGE[1]) <= found.support.beyond_mm[1] < 0.1
    assert abs(found.support_mm[0] - FLANGE[1] - castings.END_FACE) <= found.support_mm[1] < 0.12
    assert found.support.plane.rms_mm == pytest.approx(0.02, rel=0.3)
    assert found.support.turn == 1.0
    assert found.support.lean[0] <= found.support.lean[1]
    assert not any("support" in note for note in found.notes)


def test_a_face_picked_is_the_one_that_is_used() -> None:
    """The flange's near side, from behind; a pick that lies on nothing finds nothing, and says so."""
    (_, _, rotation, shift), (seen, datums) = case_scan()
    corners = np.array([[0.0, 60.0, 0.0], [0.0, -30.0, 60.0], [0.0, -30.0, -60.0]])
    near = (corners + np.array([FLANGE[0], 0, 0])) @ rotation.T + shift
    found = register(seen, datums, hand=Hand.BELOW, picks={"support face": near})
    assert found.support is not None
    assert found.support.beyond_mm[0] == pytest.approx(FLANGE[0], abs=0.02)
    nowhere = (corners + np.array([30.0, 0, 0])) @ rotation.T + shift
    found = register(seen, datums, hand=Hand.BELOW, picks={"support face": nowhere})
    assert found.support is None
    assert "no flat lies where the pinion support's face was picked" in found.notes


def test_a_support_s_face_that_leans_is_said() -> None:
    """The flange turned by 0.6 deg about its own middle: the boss's edge, at some 29 mm, stands 0.3 mm off."""
    points, faces = castings.clean_scan("case", 2.0)
    lean, flange = math.radians(0.6), points[:, 0] > 50
    turned = np.array([[math.cos(lean), 0, math.sin(lean)], [0, 1, 0], [-math.sin(lean), 0, math.cos(lean)]])
    moved = points.copy()
    moved[flange] = (points[flange] - [61, 0, 0]) @ turned.T + [61, 0, 0]
    vertices, triangles, _, _ = castings.scanned(moved, faces, seed=5)
    seen, datums = located(vertices, triangles, bore_diameter_mm=38.0)
    found = register(seen, datums, hand=Hand.BELOW)
    assert found.support is not None
    assert abs(found.support.lean[0] - lean) <= found.support.lean[1]
    assert found.support.moves_mm[0] == pytest.approx(lean * math.hypot(10, 1.45 * 19), abs=found.support.moves_mm[1])
    (note,) = (note for note in found.notes if "support" in note)
    assert "leans 0.6" in note


def only(points: Any, faces: Any, kept: Any) -> tuple[Any, Any]:
    """The part of a mesh whose corners are all kept, with no vertex left over."""
    used, faces = np.unique(faces[kept[faces].all(axis=1)], return_inverse=True)
    return points[used], faces.reshape(-1, 3).astype(np.int32)


def test_a_scan_without_the_support_s_face_has_none_and_lacks_nothing_for_it() -> None:
    points, faces = castings.clean_scan("case", 2.0)
    vertices, triangles, _, _ = castings.scanned(*only(points, faces, points[:, 0] < 50), seed=5)
    seen, datums = located(vertices, triangles, bore_diameter_mm=38.0)
    found = register(seen, datums, hand=Hand.BELOW)
    assert (found.support, found.support_mm, found.missing) == (None, None, ())


def test_a_picked_ring_side_tells_the_hand_of_a_scan_and_of_its_mirror_image() -> None:
    for mirrored, hand in ((False, Hand.BELOW), (True, Hand.ABOVE)):
        (_, _, rotation, shift), (seen, datums) = case_scan(0.0, mirrored)
        pick = {"ring side": (rotation @ [-20.0, 0.0, 60.0] + shift)[None]}
        found = register(seen, datums, hand=None, picks=pick)
        assert found.hand is hand
        assert found.pose is not None


def test_a_scan_in_the_wrong_hand_is_said() -> None:
    (vertices, triangles, rotation, shift), _ = case_scan(0.0, True)
    pick = {"ring side": (rotation @ [-20.0, 0.0, 60.0] + shift)[None]}
    with pytest.raises(InputError, match=r"shows a pinion above the ring's centre line .* but the job says below"):
        boss_from_scan(vertices, triangles, scan_cases.BORE, hand=Hand.BELOW, picks=pick)


def test_metal_where_the_ring_would_run_tells_its_side() -> None:
    """A leg that the ring would turn through stands on the other side of the pinion; two tell nothing."""
    legs = [castings.box((0, -castings.OFFSET - 12, z), (62, -castings.OFFSET + 12, z + 17)) for z in (-53.0, 36.0)]
    for chosen, hand in ((legs[:1], Hand.BELOW), (legs[1:], Hand.ABOVE), (legs, None)):
        points, faces = castings.meshed([castings.boss(), *castings.saddles(), *chosen], 2.5)
        vertices, triangles, _, _ = castings.scanned(points, faces, seed=2)
        seen, datums = located(vertices, triangles, bore_diameter_mm=38.0)
        assert register(seen, datums, hand=None, ring_diameter_mm=RING_MM).hand is hand


def boss_scan(depth: float = castings.BORE_DEPTH) -> Any:
    return castings.scanned(*castings.clean_scan("boss", 2.0, depth=depth), seed=7)


def test_a_boss_alone_needs_the_ring_side_picked() -> None:
    vertices, triangles, rotation, shift = boss_scan()
    with pytest.raises(InputError, match=r"does not show the ring axis .* pick a point on the ring gear's side"):
        boss_from_scan(vertices, triangles, scan_cases.BORE, hand=Hand.BELOW)
    pick = {"ring side": (rotation @ [-5.0, 1.0, 60.0] + shift)[None]}
    found = boss_from_scan(vertices, triangles, scan_cases.BORE, hand=Hand.BELOW, picks=pick)
    turn = math.acos(min(1.0, float((found.pose.rotation @ rotation)[2, 2])))
    assert 0 < turn <= found.pose.clock_give  # the pick was 1 mm off
    assert any("hand of the axle does not show" in note for note in found.mesh.notes)


def test_a_bore_right_through_needs_its_end_face_picked() -> None:
    vertices, triangles, rotation, shift = boss_scan(depth=40.0)
    bore = Bore(38.0, 27.0, 1.5, 18.0)
    with pytest.raises(InputError, match="which end of the bore is the pinion's: pick three points"):
        boss_from_scan(vertices, triangles, bore, hand=Hand.BELOW)
    face = np.array([[0.0, 23.0, 0.0], [0.0, -12.0, 20.0], [0.0, -12.0, -20.0]]) @ rotation.T + shift
    pick = {"end face": face, "ring side": (rotation @ [-5.0, 0.0, 60.0] + shift)[None]}
    found = boss_from_scan(vertices, triangles, bore, hand=Hand.BELOW, picks=pick)
    assert np.abs(found.pose.rotation @ rotation - np.eye(3)).max() < 2e-3


def test_everything_that_is_missing_is_named() -> None:
    """The boss alone, bored right through, and from 6 mm in: end, end face and ring axis, each with what to do."""
    vertices, triangles, _, _ = boss_scan(depth=40.0)
    seen, datums = located(vertices, triangles, bore_diameter_mm=38.0)
    end, ring = register(seen, datums, hand=None).missing
    assert end.startswith("which end of the bore is the pinion's: pick three points")
    assert ring.startswith("the ring axis (no two side-bearing bores seen): scan both saddles, or pick")
    points, faces = castings.clean_scan("boss", 2.0)
    vertices, triangles, _, _ = castings.scanned(*only(points, faces, points[:, 0] < -6), seed=7)
    seen, datums = located(vertices, triangles, bore_diameter_mm=38.0)
    face, ring = register(seen, datums, hand=Hand.BELOW).missing
    assert face.startswith("the end face, round the bore's mouth at the pinion-side end")
    assert face.endswith("scan it too, or pick three points on it (end face)")
    assert ring.startswith("the ring axis")


def test_another_bore_than_was_measured_is_refused_and_named() -> None:
    (vertices, triangles, _, _), _ = case_scan()
    with pytest.raises(InputError, match=r"no pilot bore of 1.772 in \(45.00 mm\) is in it, but one of 1.496 in"):
        located(vertices, triangles, bore_diameter_mm=45.0)


def test_a_bore_picked_is_the_one_that_is_used() -> None:
    """The pinion support's bore is the larger; picked, it is taken."""
    (vertices, triangles, rotation, shift), _ = case_scan()
    turn = np.linspace(0, 2 * np.pi, 5)[:-1]
    on = np.stack([np.full(4, 61.0), 48.0 * np.sin(turn), 48.0 * np.cos(turn)], axis=1) @ rotation.T + shift
    _, datums = located(vertices, triangles, picks={"bore": on})
    assert datums.bore.radii_mm[0] == pytest.approx(48.0, abs=0.02)


@pytest.mark.parametrize(
    ("name", "mesh"),
    [
        ("a ball", trimesh.creation.icosphere(5, 60.0)),
        ("a block", trimesh.creation.box((120, 80, 60)).subdivide_to_size(4.0)),
        ("one triangle", trimesh.Trimesh([[0, 0, 0], [50, 0, 0], [0, 50, 0]], [[0, 1, 2]])),
        ("a flat strip", trimesh.Trimesh([[0, 0, 0], [50, 0, 0], [100, 0, 0]], [[0, 1, 2]], process=False)),
    ],
)
def test_a_scan_of_something_else_is_refused_in_one_line(name: str, mesh: Any) -> None:
    vertices, triangles = np.array(mesh.vertices, float), np.array(mesh.faces, np.int32)
    for diameter in (38.0, None):
        with pytest.raises(InputError) as refused:
            located(vertices, triangles, bore_diameter_mm=diameter)
        assert len(str(refused.value).splitlines()) == 1
        assert "no pilot bore" in str(refused.value) or "no surface" in str(refused.value)


@pytest.mark.parametrize("scale", [1 / 25.4, 25.4, 0.5])
def test_a_scan_in_the_wrong_scale_has_no_such_bore(scale: float) -> None:
    (vertices, triangles, _, _), _ = case_scan()
    with pytest.raises(InputError, match=r"no pilot bore of 1.496 in \(38.00 mm\) is in it.*; .* its unit as scanned"):
        located(vertices * scale, triangles, bore_diameter_mm=38.0)


def test_the_gap_lies_within_what_is_stated() -> None:
    """12 random scans; where 95 % hold, more than 2 of 12 miss in 2 % of such sets (binomial). 200: tests/bench."""
    found = [scan_cases.case(seed, 1.0) for seed in range(12)]
    assert sum(not case.held for case in found) <= 2, found
    assert max(case.give_mm for case in found[::4]) < 0.12  # without strays the statement is no empty one
    assert sum(case.unseen for case in found[::4]) == 0
