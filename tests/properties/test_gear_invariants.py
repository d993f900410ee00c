"""What must hold exactly for every hypoid set (DESIGN 2.2), whatever the chain that made it."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from gear_strategies import designs, sets
from hypothesis import assume, given, settings
from shapely.geometry import Polygon

from geartrack.errors import OutOfRangeError
from geartrack.gearset.blank import GearDesign, blanks
from geartrack.gearset.pitch import bevel_cones, hypoid_cones
from geartrack.gearset.teeth import ToothPair

EXACT = 1e-9


def mean_point(p) -> np.ndarray:
    e1 = p.offset_angle_axial_plane
    return np.array(
        [p.ring_mean_radius_mm * math.cos(e1), p.ring_mean_radius_mm * math.sin(e1), p.mean_point_height_mm]
    )


@given(sets())
def test_the_mean_point_lies_on_both_mean_circles(built):
    p, (x, y, z) = built.pitch, mean_point(built.pitch)
    assert math.hypot(y - p.offset_mm, z) == pytest.approx(p.pinion_mean_radius_mm, rel=EXACT)
    assert math.hypot(x, y) == pytest.approx(p.ring_mean_radius_mm, rel=EXACT)
    assert p.offset_mm - y == pytest.approx(p.pinion_mean_radius_mm * math.sin(p.eta), rel=EXACT, abs=EXACT)


@given(sets())
def test_the_cones_touch_with_opposite_normals(built):
    """Normals built from the mean point and the two axes in 3-D, not from the chain's own relations."""
    p = built.pitch
    x, y, z = mean_point(p)
    from_ring_axis = np.array([x, y, 0.0]) / p.ring_mean_radius_mm
    from_pinion_axis = np.array([0.0, y - p.offset_mm, z]) / p.pinion_mean_radius_mm
    ring = math.cos(p.ring_angle) * from_ring_axis - math.sin(p.ring_angle) * np.array([0.0, 0.0, 1.0])
    pinion = math.cos(p.pinion_angle) * from_pinion_axis - math.sin(p.pinion_angle) * np.array([1.0, 0.0, 0.0])
    assert ring == pytest.approx(-pinion, abs=EXACT)


@given(sets())
def test_the_generators_enclose_the_offset_angle_in_the_pitch_plane(built):
    """From the 3-D generators (apex to mean point): their angle is e1', and tan d1 tan d2 = cos e1'."""
    p = built.pitch
    point = mean_point(p)
    ring = point - np.array([0.0, 0.0, -p.ring_apex_beyond_mm])
    pinion = point - np.array([-p.pinion_apex_beyond_mm, p.offset_mm, 0.0])
    assert np.linalg.norm(ring) == pytest.approx(p.ring_cone_distance_mm, rel=EXACT)
    assert np.linalg.norm(pinion) == pytest.approx(p.pinion_cone_distance_mm, rel=EXACT)
    cosine = ring @ pinion / np.linalg.norm(ring) / np.linalg.norm(pinion)
    assert cosine == pytest.approx(math.cos(p.offset_angle_pitch_plane), abs=EXACT)
    assert math.tan(p.pinion_angle) * math.tan(p.ring_angle) == pytest.approx(cosine, abs=EXACT)


@given(sets())
def test_no_slip_across_the_tooth(built):
    """Velocities in 3-D: ring and pinion turn by their tooth counts; the sliding runs along the tooth, none across
    it."""
    p, pair = built.pitch, built.design.pair
    point = mean_point(p)
    on_ring = np.cross([0.0, 0.0, 1.0], point)
    on_pinion = np.cross([pair.ratio, 0.0, 0.0], point - np.array([0.0, p.offset_mm, 0.0]))
    generator = point - np.array([0.0, 0.0, -p.ring_apex_beyond_mm])
    generator /= np.linalg.norm(generator)
    around = on_ring / np.linalg.norm(on_ring)
    size = np.linalg.norm(on_ring)
    across = [
        abs(
            (on_ring - way * on_pinion)
            @ (math.cos(p.ring_spiral) * around + side * math.sin(p.ring_spiral) * generator)
        )
        for way in (1, -1)
        for side in (1, -1)
    ]
    assert min(across) / size < EXACT
    assert p.pinion_spiral - p.ring_spiral == pytest.approx(p.offset_angle_pitch_plane, rel=EXACT)
    rolled = p.pinion_mean_radius_mm * math.cos(p.pinion_spiral) * pair.ratio
    assert rolled == pytest.approx(p.ring_mean_radius_mm * math.cos(p.ring_spiral), rel=EXACT)


@given(sets())
def test_the_limit_curvature_is_the_cutters(built):
    assert built.design.cutter_radius_mm * built.pitch.limit_curvature_per_mm == pytest.approx(1.0, rel=EXACT)


@given(sets())
def test_the_limit_normal_takes_no_part_in_the_sliding_of_the_neighbourhood(built):
    """Limit pressure angle from its meaning, in 3-D: the flank normal n for which n . (w1 x v2 - w2 x v1) = 0, the
    condition under which the line of contact degenerates (Litvin, Gear Geometry and Applied Theory: equation of meshing
    differentiated in time; relative velocity v, angular velocities w). n leans from the pitch plane across the
    tooth."""
    p, pair = built.pitch, built.design.pair
    point, offset = mean_point(p), np.array([0.0, p.offset_mm, 0.0])
    ring_axis, pinion_axis = np.array([0.0, 0.0, 1.0]), np.array([1.0, 0.0, 0.0])
    generator = point - np.array([0.0, 0.0, -p.ring_apex_beyond_mm])
    generator /= np.linalg.norm(generator)
    v2 = np.cross(ring_axis, point)
    around = v2 / np.linalg.norm(v2)
    best = []
    for way in (1, -1):
        w1 = way * pair.ratio * pinion_axis
        v1 = np.cross(w1, point - offset)
        slide = v2 - v1
        across = np.cross(generator, around)  # normal of the pitch plane
        in_plane = np.cross(slide / np.linalg.norm(slide), across)
        turn = np.cross(w1, v2) - np.cross(ring_axis, v1)
        # cos(a) in_plane + sin(a) across, perpendicular to `turn`
        best.append(abs(math.atan2(-in_plane @ turn, across @ turn)))
    angles = [min(a, math.pi - a) for a in best]
    assert min(abs(a - abs(p.limit_pressure_angle)) for a in angles) < 1e-8


@pytest.mark.parametrize("name", ["ring_angle", "pinion_angle", "spirals"])
def test_bevel_values_are_reached_in_proportion_to_the_offset(name):
    """As E -> 0 the error against the bevel set is O(E): halving E halves it, at least (slope of the logarithms >=
    1)."""
    pair, offsets = ToothPair(9, 41), np.array([4.0, 2.0, 1.0, 0.5])
    bevel = bevel_cones(pair, ring_diameter_mm=230.0, face_width_mm=33.0, spiral=0.6)
    errors = []
    for offset in offsets:
        cones = hypoid_cones(
            pair,
            ring_diameter_mm=230.0,
            face_width_mm=33.0,
            offset_mm=float(offset),
            pinion_spiral=0.6,
            cutter_radius_mm=95.0,
        )
        value = cones.pinion_spiral - cones.ring_spiral if name == "spirals" else getattr(cones, name)
        errors.append(abs(value - (0.0 if name == "spirals" else getattr(bevel, name))))
    slope = np.polyfit(np.log(offsets), np.log(errors), 1)[0]
    assert slope > 0.9
    assert errors[-1] < 0.02


@given(designs(offset_part=(0.05, 0.26)))
@settings(max_examples=60)
def test_a_steeper_ratio_crowds_the_boss(design):
    """Common practice, no source: at one ring size, offset and pinion count, more ring teeth mean a smaller pinion, a
    flatter ring and teeth nearer the pinion axis."""
    pair = design.pair
    steeper = replace(design, pair=ToothPair(pair.pinion, pair.ring + 1))
    try:
        here, there = blanks(design), blanks(steeper)
    except OutOfRangeError:
        assume(False)
        raise
    assert there.pitch.pinion_mean_radius_mm < here.pitch.pinion_mean_radius_mm
    assert there.pitch.mean_point_height_mm < here.pitch.mean_point_height_mm
    assert there.pitch.ring_angle > here.pitch.ring_angle
    assert there.ring.toe_tip_height_mm < here.ring.toe_tip_height_mm


@given(sets())
def test_sections_are_simple_polygons_with_metal_in_them(built):
    for section in (built.ring.section, built.pinion.section):
        polygon = Polygon(section.points)
        assert polygon.is_valid
        assert polygon.area > 0
    assert built.ring.section.points[:, 1].argmin() == built.ring.section.edges.index("tooth tips")


@given(sets())
def test_the_pinion_stays_clear_of_the_rings_body(built):
    """Sampled in 3-D: no point of the pinion's tip edge comes nearer to the ring's root cone than the clearance."""
    p, ring, pinion = built.pitch, built.ring, built.pinion
    x = np.linspace(pinion.toe_position_mm, pinion.heel_position_mm, 40)[:, None]
    turn = np.linspace(-np.pi / 2, np.pi / 2, 121)[None, :]
    q = (x - pinion.tip_apex_x_mm) * math.tan(pinion.tip_angle)
    r = np.hypot(x + 0 * turn, p.offset_mm + q * np.sin(turn))
    z = q * np.cos(turn)
    # Distance outside the ring's root cone, whose body lies toward larger z.
    outside = r * math.cos(ring.root_angle) - (z - ring.root_apex_z_mm) * math.sin(ring.root_angle)
    assert outside.min() > built.depth.clearance_mm - 1e-9


@given(designs())
@settings(max_examples=40)
def test_everything_scales_with_the_ring(design):
    """Similar sets are similar: twice every length gives twice every length and the same angles."""
    double = GearDesign(
        **{
            **vars(design),
            **{k: 2 * v for k, v in vars(design).items() if k.endswith("_mm")},
        }
    )
    try:
        one, two = blanks(design), blanks(double)
    except OutOfRangeError:
        assume(False)
        raise
    assert two.pitch.ring_angle == pytest.approx(one.pitch.ring_angle, rel=EXACT)
    assert two.ring.section.points == pytest.approx(2 * one.ring.section.points, rel=EXACT)
    assert two.pinion.section.points == pytest.approx(2 * one.pinion.section.points, rel=EXACT)
