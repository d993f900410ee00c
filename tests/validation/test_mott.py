"""R. L. Mott, Machine Elements in Mechanical Design, 4th ed., Example Problem 8-6, printed page 337 (straight bevel
16/48).

Status "read" in shared/check_values.toml. What that file continues by computation is no external evidence and is left
out.
"""

from __future__ import annotations

import math
import tomllib
from pathlib import Path

import pytest

from geartrack.gearset.pitch import bevel_cones
from geartrack.gearset.teeth import ToothPair

TABLE = tomllib.loads((Path(__file__).parents[2] / "shared" / "check_values.toml").read_text())[
    "straight_bevel_mott_8_6"
]
INCH = 25.4


def ours() -> dict[str, float]:
    given = TABLE["inputs"]
    pair = ToothPair(given["pinion_teeth"], given["gear_teeth"])
    diameter = given["gear_teeth"] / given["diametral_pitch_per_in"] * INCH
    face = given["face_width_in"] * INCH
    cones = bevel_cones(pair, ring_diameter_mm=diameter, face_width_mm=face)
    outer = (cones.ring_cone_distance_mm + face / 2) / INCH
    return {
        "ratio": pair.ratio,
        "pinion_pitch_diameter_in": 2 * outer * math.sin(cones.pinion_angle),
        "gear_pitch_diameter_in": 2 * outer * math.sin(cones.ring_angle),
        "pinion_pitch_angle_deg": math.degrees(cones.pinion_angle),
        "gear_pitch_angle_deg": math.degrees(cones.ring_angle),
        "outer_cone_distance_in": outer,
        "mean_cone_distance_in": cones.ring_cone_distance_mm / INCH,
        "mean_to_outer_ratio": cones.ring_cone_distance_mm / INCH / outer,
    }


@pytest.mark.parametrize("key", ours())
def test_example_problem_8_6(key):
    outputs = TABLE["outputs"]
    tolerance = outputs["tolerance_deg" if key.endswith("_deg") else "tolerance_in"]
    assert ours()[key] == pytest.approx(outputs[key], abs=tolerance)


def test_the_face_width_rule_of_the_default():
    """Printed: nominal face width 0.949 in at an outer cone distance of 3.162 in (0.30), largest 1.054 in (a third)."""
    outputs = TABLE["outputs"]
    assert outputs["largest_face_width_in"] == pytest.approx(outputs["outer_cone_distance_in"] / 3, abs=0.0006)
    assert outputs["nominal_face_width_in"] == pytest.approx(0.3 * outputs["outer_cone_distance_in"], abs=0.0006)
