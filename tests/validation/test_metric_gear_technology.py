"""Elements of Metric Gear Technology, section 8, bevel gear tables 8-4 (straight) and 8-6 (spiral), 20/40 teeth,
module 3.

Status "memory" in shared/check_values.toml. The straight set's angles, addenda, dedenda and cone distance stand with
the same digits in the unit tests of a public code repository (stored public file id 12941252430), which names no
source.
"""

from __future__ import annotations

import math
import tomllib
from pathlib import Path

import pytest

from geartrack.gearset.blank import GearDesign, blanks
from geartrack.gearset.depth import Proportions
from geartrack.gearset.teeth import ToothPair

TABLES = tomllib.loads((Path(__file__).parents[2] / "shared" / "check_values.toml").read_text())
CASES = {
    "straight_bevel_metric_20_40": Proportions.STRAIGHT_20,
    "spiral_bevel_metric_20_40": Proportions.SPIRAL_20,
}


def ours(name: str) -> dict[str, float]:
    given = TABLES[name]["inputs"]
    design = GearDesign(
        pair=ToothPair(given["pinion_teeth"], given["gear_teeth"]),
        ring_diameter_mm=given["outer_transverse_module_mm"] * given["gear_teeth"],
        offset_mm=0.0,
        face_width_mm=given["face_width_mm"],
        pinion_spiral=math.radians(given["mean_spiral_angle_deg"]),
        cutter_radius_mm=100.0,
        proportions=CASES[name],
    )
    built = blanks(design)
    p, depth, ring, pinion = built.pitch, built.depth, built.ring, built.pinion
    half, deg = design.face_width_mm / 2, math.degrees
    outer_addendum = depth.ring_addendum_mm + half * math.tan(depth.ring_addendum_angle)
    pinion_angle_a, pinion_angle_f = pinion.tip_angle - p.pinion_angle, p.pinion_angle - pinion.root_angle
    return {
        "pinion_pitch_diameter_mm": 2 * (p.pinion_mean_radius_mm + half * math.sin(p.pinion_angle)),
        "gear_pitch_diameter_mm": 2 * (p.ring_mean_radius_mm + half * math.sin(p.ring_angle)),
        "pinion_pitch_angle_deg": deg(p.pinion_angle),
        "gear_pitch_angle_deg": deg(p.ring_angle),
        "outer_cone_distance_mm": p.ring_cone_distance_mm + half,
        "pinion_outer_addendum_mm": depth.pinion_addendum_mm + half * math.tan(pinion_angle_a),
        "gear_outer_addendum_mm": outer_addendum,
        "pinion_outer_dedendum_mm": depth.pinion_dedendum_mm + half * math.tan(pinion_angle_f),
        "gear_outer_dedendum_mm": ring.whole_depth_heel_mm - outer_addendum,
        "pinion_dedendum_angle_deg": deg(pinion_angle_f),
        "gear_dedendum_angle_deg": deg(depth.ring_dedendum_angle),
        "pinion_face_angle_deg": deg(pinion.tip_angle),
        "gear_face_angle_deg": deg(ring.tip_angle),
        "pinion_root_angle_deg": deg(pinion.root_angle),
        "gear_root_angle_deg": deg(ring.root_angle),
        "pinion_outside_diameter_mm": 2 * pinion.head_radius_mm,
        "gear_outside_diameter_mm": 2 * ring.heel_radius_mm,
        "pinion_pitch_apex_to_crown_mm": pinion.heel_position_mm,
        "gear_pitch_apex_to_crown_mm": ring.heel_tip_height_mm,
        "pinion_axial_face_width_mm": pinion.heel_position_mm - pinion.toe_position_mm,
        "gear_axial_face_width_mm": ring.tooth_height_difference_mm,
        "pinion_inner_outside_diameter_mm": 2 * pinion.toe_radius_mm,
        "gear_inner_outside_diameter_mm": 2 * ring.toe_radius_mm,
    }


def printed(name: str) -> list[str]:
    return [k for k in TABLES[name]["outputs"] if not k.startswith("tolerance")]


@pytest.mark.parametrize(("name", "key"), [(n, k) for n in CASES for k in printed(n)])
def test_every_printed_value(name, key):
    outputs = TABLES[name]["outputs"]
    tolerance = outputs["tolerance_deg" if key.endswith("_deg") else "tolerance_mm"]
    assert ours(name)[key] == pytest.approx(outputs[key], abs=tolerance)
