"""Blanks: corners of both sections against closed forms, the pinion's cones against a 3-D model of two cones."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import minimize
from shapely.geometry import Polygon

from geartrack.errors import InputError
from geartrack.gearset.blank import ESTIMATED, GearDesign, as_dict, bench_names, blanks
from geartrack.gearset.depth import Proportions, Taper
from geartrack.gearset.pinion import pinion_cones
from geartrack.gearset.ring import EDGES, ring_corners, root_cone, tip_cone
from geartrack.gearset.teeth import ToothPair

STEEP = GearDesign(ToothPair(8, 39), 240.0, 54.0, 37.0, math.radians(50.0), 95.0)
SPIRAL = GearDesign(ToothPair(10, 41), 230.0, 0.0, 33.0, math.radians(35.0), 114.3)
STRAIGHT = replace(SPIRAL, pinion_spiral=0.0)


def least_distance(offset: float, ring: tuple[float, float], pinion: tuple[float, float], start: np.ndarray) -> float:
    """Least distance of the ring's cone (about Z) and the pinion's (about the line y = E, z = 0), cones as (angle,
    apex).

    By search over the ring cone's points in 3-D; a point at X = x and q from the pinion axis lies
    q cos a - (x - apex) sin a outside a cone of angle a (its meridian is a straight line).
    """
    angle, apex = ring
    own, own_apex = pinion

    def outside(at: np.ndarray) -> float:
        along, turn = at
        r, z = along * math.sin(angle), apex + along * math.cos(angle)
        x, y = r * math.cos(turn), r * math.sin(turn)
        return math.hypot(y - offset, z) * math.cos(own) - (x - own_apex) * math.sin(own)

    return float(minimize(outside, start, method="BFGS", options={"gtol": 1e-9}).fun)


@pytest.mark.parametrize("design", [STEEP, replace(STEEP, pair=ToothPair(11, 40)), replace(STEEP, offset_mm=15.0)])
@pytest.mark.parametrize("taper", list(Taper))
def test_the_pinions_cones_run_the_clearance_clear_of_the_rings(design, taper):
    """DESIGN 2.3: tip cone against the ring's root cone and root cone against its tip cone. Both bodies are convex
    where they face each other, so the least distance found by search is the only one."""
    built = blanks(replace(design, taper=taper))
    cones, depth = built.pitch, built.depth
    tip, root = pinion_cones(cones, depth)
    start = np.array([cones.ring_cone_distance_mm, cones.offset_angle_axial_plane])
    for ring, pinion in ((root_cone(cones, depth), tip), (tip_cone(cones, depth), root)):
        gap = least_distance(cones.offset_mm, ring, pinion, start)
        assert gap == pytest.approx(depth.clearance_mm, abs=1e-6)


@pytest.mark.parametrize("design", [SPIRAL, STRAIGHT])
def test_without_offset_the_pinions_angles_are_the_mates(design):
    """Closed form: tip = pitch + the ring's dedendum angle, root = pitch - the ring's addendum angle."""
    built = blanks(design)
    assert built.pinion.tip_angle == pytest.approx(built.pitch.pinion_angle + built.depth.ring_dedendum_angle)
    assert built.pinion.root_angle == pytest.approx(built.pitch.pinion_angle - built.depth.ring_addendum_angle)


def on_pitch_cone(built, along: float) -> np.ndarray:
    d2 = built.pitch.ring_angle
    mean = np.array([built.pitch.ring_mean_radius_mm, built.pitch.mean_point_height_mm])
    return mean + along * np.array([math.sin(d2), math.cos(d2)])


@pytest.mark.parametrize("design", [STEEP, SPIRAL, STRAIGHT, replace(STEEP, taper=Taper.UNIFORM)])
def test_the_rings_corners_in_closed_form(design):
    """Toe and heel are normal to the pitch cone at the inner and outer cone distance; depths follow the taper."""
    built = blanks(design)
    d2, depth, ring = built.pitch.ring_angle, built.depth, built.ring
    outward = np.array([math.cos(d2), -math.sin(d2)])
    outer = design.ring_diameter_mm / (2 * math.sin(d2)) - built.pitch.ring_cone_distance_mm
    inner = outer - design.face_width_mm
    for along, found in (
        (inner, (ring.toe_radius_mm, ring.toe_tip_height_mm)),
        (outer, (ring.heel_radius_mm, ring.heel_tip_height_mm)),
    ):
        height = depth.ring_addendum_mm + along * math.tan(depth.ring_addendum_angle)
        assert np.array(found) == pytest.approx(on_pitch_cone(built, along) + height * outward)
    fall = math.tan(depth.ring_addendum_angle) + math.tan(depth.ring_dedendum_angle)
    assert ring.whole_depth_toe_mm == pytest.approx(depth.whole_mm + inner * fall)
    assert ring.whole_depth_heel_mm == pytest.approx(depth.whole_mm + outer * fall)


@pytest.mark.parametrize(
    "design", [STEEP, SPIRAL, replace(STEEP, toe_chamfer_mm=1.0, tip_chamfer_mm=0.3, toe_end_angle=0.2)]
)
def test_both_sections_are_simple_and_their_tips_face_the_pinion(design):
    built = blanks(design)
    for section in (built.ring.section, built.pinion.section):
        assert Polygon(section.points).is_valid
    points = built.ring.section.points
    assert points[:, 1].min() == pytest.approx(built.ring.toe_tip_height_mm)
    assert points[:, 1].max() == pytest.approx(built.ring.back_face_height_mm)
    assert points[:, 0].max() == pytest.approx(built.ring.heel_radius_mm)
    assert built.ring.section.edges[-1] == "toe"
    assert ESTIMATED in built.notes


def test_the_boundary_of_the_mean_whole_depth_lies_between_tip_and_root_cones():
    """The mean normal through the pitch point meets the tip edge at the addendum; the root foot lies on the root
    cone."""
    built = blanks(STEEP)
    corners = ring_corners(built.pitch, built.depth, ring_diameter_mm=240.0, face_width_mm=37.0)
    (tip_angle, tip_apex), (root_angle, root_apex) = (
        tip_cone(built.pitch, built.depth),
        root_cone(built.pitch, built.depth),
    )
    for index, angle, apex in (
        (1, tip_angle, tip_apex),
        (2, tip_angle, tip_apex),
        (3, root_angle, root_apex),
        (7, root_angle, root_apex),
    ):
        r, z = corners[index]
        assert r == pytest.approx((z - apex) * math.tan(angle))


def test_toe_end_angle_turns_about_the_pitch_cone_up_to_a_cylinder():
    plain = blanks(STEEP)
    turned = blanks(replace(STEEP, toe_end_angle=math.pi / 2 - plain.pitch.ring_angle))
    points, edges = turned.ring.section.points, turned.ring.section.edges
    toe = edges.index("toe")
    assert points[toe, 0] == pytest.approx(points[(toe + 1) % len(points), 0])
    inner = plain.pitch.ring_cone_distance_mm + STEEP.ring_diameter_mm / (2 * math.sin(plain.pitch.ring_angle))
    inner -= plain.pitch.ring_cone_distance_mm + STEEP.face_width_mm
    assert points[toe, 0] == pytest.approx(inner * math.sin(plain.pitch.ring_angle))


def test_toe_chamfer_cuts_equal_legs_off_the_toe_corner_only():
    sharp, broken = blanks(STEEP).ring.section, blanks(replace(STEEP, toe_chamfer_mm=1.2)).ring.section
    corner = sharp.points[sharp.edges.index("tooth tips")]
    i = broken.edges.index("toe chamfer")
    for end in (broken.points[i], broken.points[i + 1]):
        assert np.hypot(*(end - corner)) == pytest.approx(1.2)
        assert Polygon(sharp.points).boundary.distance(Polygon([end, end + 1e-9, end - [1e-9, 0]])) < 1e-6
    lost = Polygon(sharp.points).difference(Polygon(broken.points))
    assert lost.area == pytest.approx(Polygon(sharp.points).area - Polygon(broken.points).area)
    assert lost.distance(Polygon([corner, corner + 1e-9, corner - [1e-9, 0]])) < 1e-6
    assert lost.area < 0.5 * 1.2**2


def test_tip_chamfer_takes_its_height_off_the_tips():
    plain, topped = blanks(STEEP).ring, blanks(replace(STEEP, tip_chamfer_mm=0.4)).ring
    assert topped.tip_angle == plain.tip_angle
    assert plain.whole_depth_toe_mm - topped.whole_depth_toe_mm == pytest.approx(0.4)
    normal = np.array([math.cos(plain.tip_angle), -math.sin(plain.tip_angle)])
    shift = plain.section.points[0] - topped.section.points[0]
    along_pitch_normal = 0.4 * math.cos(plain.tip_angle - blanks(STEEP).pitch.ring_angle)
    assert shift @ normal == pytest.approx(along_pitch_normal)


def test_chamfers_only_take_metal_away():
    whole = Polygon(blanks(STEEP).ring.section.points)
    less = Polygon(blanks(replace(STEEP, toe_chamfer_mm=1.5, tip_chamfer_mm=0.5)).ring.section.points)
    assert less.difference(whole).area < 1e-9
    assert less.area < whole.area


def test_corners_broadcast():
    built = blanks(STEEP)
    size = {"ring_diameter_mm": 240.0, "face_width_mm": 37.0}
    many = ring_corners(built.pitch, built.depth, **size, toe_chamfer_mm=np.array([0.0, 0.5, 1.0]))
    assert many.shape == (3, len(EDGES), 2)
    for i, chamfer in enumerate((0.0, 0.5, 1.0)):
        assert many[i] == pytest.approx(ring_corners(built.pitch, built.depth, **size, toe_chamfer_mm=chamfer))


@pytest.mark.parametrize("pair", [ToothPair(11, 40), ToothPair(8, 39), ToothPair(6, 35)])
def test_the_pinions_face_covers_the_rings(pair):
    """The ring's tips at toe and heel, turned to where they come nearest to the pinion axis, lie within the pinion's
    length: checked by sampling the ring's end circles in 3-D."""
    built = blanks(replace(STEEP, pair=pair))
    turn = np.linspace(0, 2 * np.pi, 20001)
    nearest = []
    for r, z in (
        (built.ring.toe_radius_mm, built.ring.toe_tip_height_mm),
        (built.ring.heel_radius_mm, built.ring.heel_tip_height_mm),
    ):
        x, y = r * np.cos(turn), r * np.sin(turn)
        depth = np.hypot(y - STEEP.offset_mm, z) - (x - built.pinion.tip_apex_x_mm) * math.tan(built.pinion.tip_angle)
        nearest.append(x[np.where(x > 0, depth, np.inf).argmin()])
    points = built.pinion.section.points
    assert points[:, 1].min() < nearest[0] < nearest[1] < points[:, 1].max()


def test_the_pinions_section_lies_along_its_cones():
    """To 0.05 mm: the ends take their height from the mean addendum as in the published examples, and stand up to
    0.04 mm beside the exact tangent cones in a steep set (tests/validation/test_iso_23509.py)."""
    pinion = blanks(STEEP).pinion
    for r, x, angle, apex in (
        (pinion.toe_radius_mm, pinion.toe_position_mm, pinion.tip_angle, pinion.tip_apex_x_mm),
        (pinion.head_radius_mm, pinion.heel_position_mm, pinion.tip_angle, pinion.tip_apex_x_mm),
    ):
        assert r == pytest.approx((x - apex) * math.tan(angle), abs=0.05)
    (_, toe_root, toe, heel, heel_root, _) = pinion.section.points
    assert toe_root[0] == pytest.approx(pinion.toe_root_radius_mm)
    assert heel_root[0] == pytest.approx((heel_root[1] - pinion.root_apex_x_mm) * math.tan(pinion.root_angle), abs=0.05)
    assert toe[1] < heel[1]
    assert toe[0] < heel[0]


def test_as_dict_and_bench_names_cover_the_same_keys():
    """The keys other parts of the package and the JSON rely on (brief of the gear set)."""
    built = blanks(STEEP)
    flat = {f"{group}.{name}": value for group, part in as_dict(built).items() for name, value in part.items()}
    assert flat.keys() == bench_names.keys()
    assert all(math.isfinite(v) for v in flat.values())
    assert flat["pitch.ring_angle_deg"] == pytest.approx(math.degrees(built.pitch.ring_angle))
    ring, pinion = built.ring.section.points, built.pinion.section.points
    assert flat["ring.heel_tip_height_mm"] == pytest.approx(ring[ring[:, 0].argmax(), 1])
    assert flat["ring.toe_tip_height_mm"] == pytest.approx(ring[:, 1].min())
    assert flat["pinion.head_diameter_mm"] == pytest.approx(2 * pinion[:, 0].max())
    assert flat["pinion.toe_root_diameter_mm"] == pytest.approx(2 * pinion[1, 0])
    assert flat["pinion.toe_position_mm"] == pytest.approx(pinion[:, 1].min())
    assert flat["ring.outside_diameter_mm"] == pytest.approx(2 * built.ring.section.points[:, 0].max())
    assert flat["ring.toe_height_mm"] - flat["ring.heel_height_mm"] == pytest.approx(
        flat["ring.tooth_height_difference_mm"]
    )
    needed = {
        "pitch.pinion_angle_deg",
        "pitch.ring_angle_deg",
        "pitch.pinion_mean_radius_mm",
        "pitch.ring_mean_radius_mm",
        "pitch.pinion_spiral_deg",
        "pitch.ring_spiral_deg",
        "pitch.offset_angle_pitch_plane_deg",
        "pitch.offset_angle_axial_plane_deg",
        "pitch.eta_deg",
        "pitch.limit_pressure_angle_deg",
        "pitch.mean_point_height_mm",
        "depth.mean_normal_module_mm",
        "depth.working_mm",
        "depth.whole_mm",
        "depth.ring_mean_addendum_mm",
        "depth.ring_mean_dedendum_mm",
        "cones.ring_tip_deg",
        "cones.ring_root_deg",
        "cones.pinion_tip_deg",
        "cones.pinion_root_deg",
        "ring.toe_tip_height_mm",
        "ring.heel_tip_height_mm",
        "ring.outside_diameter_mm",
        "ring.toe_inside_diameter_mm",
        "ring.tooth_height_difference_mm",
        "pinion.head_diameter_mm",
        "pinion.toe_position_mm",
        "pinion.toe_root_diameter_mm",
    }
    assert needed <= flat.keys()


def test_notes_tell_what_a_builder_should_know():
    notes = " ".join(blanks(replace(STEEP, pair=ToothPair(5, 35))).notes)
    assert "not a hunting pair" in notes
    assert "extrapolated" in notes
    typed = replace(STEEP, pair=ToothPair(5, 36), depth_factor=1.7, addendum_factor=0.09)
    assert "extrapolated" not in " ".join(blanks(typed).notes)


def test_kinds():
    assert (STEEP.kind, SPIRAL.kind, STRAIGHT.kind) == ("hypoid", "spiral bevel", "straight bevel")


@pytest.mark.parametrize(
    ("change", "where"),
    [
        ({"depth_factor": 0.0}, "gears.depth_factor"),
        ({"addendum_factor": -0.1}, "gears.addendum_factor"),
        ({"clearance_factor": float("nan")}, "gears.clearance_factor"),
        ({"pressure_angle": 0.0}, "gears.pressure_angle"),
        ({"toe_chamfer_mm": -0.1}, "gears.toe_chamfer"),
        ({"tip_chamfer_mm": 20.0}, "gears.tip_chamfer"),
        ({"toe_end_angle": 1.5}, "gears.toe_end_angle"),
        ({"proportions": Proportions.SPIRAL_20}, "gears.proportions"),
    ],
)
def test_bad_designs_are_refused_by_name(change, where):
    with pytest.raises(InputError) as caught:
        blanks(replace(STEEP, **change))
    assert [f.where for f in caught.value.findings] == [where]
