"""R. F. Handschuh and F. L. Litvin, NASA TP-3096 / AVSCOM TR 91-C-020 (1991), design data of a spiral bevel set 12/36.

Status "memory" in shared/check_values.toml. Compared: pitch angles, and that the pinion's tip and root angles follow
from the ring's dedendum and addendum angles. The report's dedendum angles themselves come from a taper it does not
state.
"""

from __future__ import annotations

import math
import tomllib
from pathlib import Path

import pytest

from geartrack.gearset.depth import ToothDepth
from geartrack.gearset.pinion import pinion_cones
from geartrack.gearset.pitch import bevel_cones
from geartrack.gearset.teeth import ToothPair

TABLES = tomllib.loads((Path(__file__).parents[2] / "shared" / "check_values.toml").read_text())
TABLE = TABLES["spiral_bevel_nasa_tp3096_12_36"]


def test_design_data():
    given, out = TABLE["inputs"], TABLE["outputs"]
    pair = ToothPair(given["pinion_teeth"], given["gear_teeth"])
    outer = given["mean_cone_distance_mm"] + given["face_width_mm"] / 2
    cones = bevel_cones(
        pair,
        ring_diameter_mm=2 * outer * math.sin(math.atan(pair.ratio)),
        face_width_mm=given["face_width_mm"],
        spiral=math.radians(given["mean_spiral_angle_deg"]),
    )
    tolerance = out["tolerance_deg"]
    assert cones.ring_cone_distance_mm == pytest.approx(given["mean_cone_distance_mm"])
    assert math.degrees(cones.pinion_angle) == pytest.approx(out["pinion_pitch_angle_deg"], abs=tolerance)
    assert math.degrees(cones.ring_angle) == pytest.approx(out["gear_pitch_angle_deg"], abs=tolerance)
    depth = ToothDepth(
        mean_normal_module_mm=3.4,
        working_mm=6.8,
        clearance_mm=0.85,
        ring_addendum_mm=1.65,
        ring_addendum_angle=math.radians(out["gear_addendum_angle_deg"]),
        ring_dedendum_angle=math.radians(out["gear_dedendum_angle_deg"]),
    )
    (tip, _), (root, _) = pinion_cones(cones, depth)
    assert math.degrees(tip - cones.pinion_angle) == pytest.approx(out["pinion_addendum_angle_deg"], abs=tolerance)
    assert math.degrees(cones.pinion_angle - root) == pytest.approx(out["pinion_dedendum_angle_deg"], abs=tolerance)
