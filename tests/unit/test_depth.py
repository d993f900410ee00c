"""Tooth depths: code constants against their tables, tapers, refusals."""

from __future__ import annotations

import csv
import math
from pathlib import Path

import numpy as np
import pytest

from geartrack.errors import InputError, OutOfRangeError
from geartrack.gearset import depth
from geartrack.gearset.depth import Proportions, Taper, addendum_factor, depth_factor, mean_depth, outer_depth
from geartrack.gearset.pitch import bevel_cones, hypoid_cones
from geartrack.gearset.teeth import ToothPair

SHARED = Path(__file__).parents[2] / "shared"
PAIR = ToothPair(8, 39)
CONES = hypoid_cones(
    PAIR,
    ring_diameter_mm=240.0,
    face_width_mm=37.0,
    offset_mm=54.0,
    pinion_spiral=math.radians(50.0),
    cutter_radius_mm=95.0,
)
GIVEN = {
    "ring_diameter_mm": 240.0,
    "cutter_radius_mm": 95.0,
    "depth_factor": 1.895,
    "addendum_factor": 0.15,
}


def rows(name: str) -> list[dict[str, str]]:
    lines = (SHARED / name).read_text().splitlines()
    return list(csv.DictReader(line for line in lines if not line.startswith("#")))


def test_hypoid_factors_are_the_tables():
    table = rows("depth_factors.csv")
    assert [int(r["pinion_teeth"]) for r in table] == list(range(5, 13))
    for row in table:
        pair = ToothPair(int(row["pinion_teeth"]), 41)
        assert depth_factor(pair, hypoid=True) == float(row["depth_factor"])
        expected = float(row["addendum_constant"]) + float(row["addendum_per_u2"]) / pair.ratio**2
        assert addendum_factor(pair, hypoid=True) == pytest.approx(expected)
        assert bool(depth.factor_notes(pair)) == (row["mark"] == "extrapolated")


def test_twelve_stands_for_more():
    for teeth in (13, 16):
        assert depth_factor(ToothPair(teeth, 42), hypoid=True) == 2.0
        assert addendum_factor(ToothPair(teeth, 42), hypoid=True) == pytest.approx(0.21 + 0.29 * (teeth / 42) ** 2)


def test_bevel_proportions_are_the_table():
    table = {r["kind"]: r for r in rows("depth_proportions.csv")}
    for kind, numbers in depth._OUTER_20.items():
        row = table[kind]
        names = ("working", "whole", "addendum_constant", "addendum_per_u2")
        assert numbers == tuple(float(row[name]) for name in names)
    mean = table["mean"]
    assert depth_factor(ToothPair(6, 40), hypoid=False) == float(mean["working"])
    expected = float(mean["addendum_constant"]) + float(mean["addendum_per_u2"]) * (6 / 40) ** 2
    assert addendum_factor(ToothPair(6, 40), hypoid=False) == pytest.approx(expected)


def test_depths_add_up():
    """DESIGN 2.3: hw = kd m, c = kc hw, ham2 = ca hw, ham1 = hw - ham2, hfm2 = ham1 + c, hfm1 = ham2 + c."""
    found = mean_depth(CONES, PAIR, **GIVEN, clearance_factor=0.125)
    module = 2 * CONES.ring_mean_radius_mm * math.cos(CONES.ring_spiral) / 39
    assert found.mean_normal_module_mm == pytest.approx(module)
    assert found.working_mm == pytest.approx(1.895 * module)
    assert found.clearance_mm == pytest.approx(0.125 * 1.895 * module)
    assert found.ring_addendum_mm == pytest.approx(0.15 * found.working_mm)
    assert found.pinion_addendum_mm + found.ring_addendum_mm == pytest.approx(found.working_mm)
    assert found.ring_addendum_mm + found.ring_dedendum_mm == pytest.approx(found.whole_mm)
    assert found.pinion_addendum_mm + found.pinion_dedendum_mm == pytest.approx(found.whole_mm)


def test_standard_taper_meets_at_the_mean_cone_distance():
    """Closed form: each angle is its dedendum seen from the ring's mean cone distance."""
    found = mean_depth(CONES, PAIR, **GIVEN, taper=Taper.STANDARD)
    assert math.tan(found.ring_dedendum_angle) * CONES.ring_cone_distance_mm == pytest.approx(found.ring_dedendum_mm)
    assert math.tan(found.ring_addendum_angle) * CONES.ring_cone_distance_mm == pytest.approx(found.pinion_dedendum_mm)


def test_uniform_depth_has_no_taper():
    found = mean_depth(CONES, PAIR, **GIVEN, taper=Taper.UNIFORM)
    assert found.ring_addendum_angle == found.ring_dedendum_angle == 0


def test_duplex_splits_as_the_working_depth_and_vanishes_with_the_standard_cutter():
    """The sum is 0 where Rm2 sin bm2 = rc0, closed form; a smaller cutter is refused."""
    found = mean_depth(CONES, PAIR, **GIVEN, taper=Taper.DUPLEX)
    total = found.ring_addendum_angle + found.ring_dedendum_angle
    assert found.ring_addendum_angle / total == pytest.approx(0.15)
    least = CONES.ring_cone_distance_mm * math.sin(CONES.ring_spiral)
    exact = mean_depth(CONES, PAIR, **{**GIVEN, "cutter_radius_mm": least}, taper=Taper.DUPLEX)
    assert exact.ring_dedendum_angle == pytest.approx(0.0, abs=1e-12)
    with pytest.raises(OutOfRangeError, match=r"gears\.taper: duplex taper .* deeper at the toe; a cutter radius over"):
        mean_depth(CONES, PAIR, **{**GIVEN, "cutter_radius_mm": 0.9 * least}, taper=Taper.DUPLEX)


def test_depths_broadcast():
    factors = np.array([1.8, 1.9, 2.0])
    many = mean_depth(CONES, PAIR, **{**GIVEN, "depth_factor": factors})
    alone = [mean_depth(CONES, PAIR, **{**GIVEN, "depth_factor": float(f)}) for f in factors]
    assert many.whole_mm == pytest.approx([d.whole_mm for d in alone])
    assert many.ring_addendum_angle == pytest.approx([d.ring_addendum_angle for d in alone])


def test_outer_proportions_return_at_the_outer_end():
    """Brought to mid face and back along the taper, the whole depth at the heel is the outer one: 1.888 modules."""
    pair = ToothPair(10, 41)
    cones = bevel_cones(pair, ring_diameter_mm=205.0, face_width_mm=30.0, spiral=0.6)
    found = outer_depth(cones, pair, ring_diameter_mm=205.0, face_width_mm=30.0, proportions=Proportions.SPIRAL_20)
    fall = 15.0 * (math.tan(found.ring_addendum_angle) + math.tan(found.ring_dedendum_angle))
    assert found.whole_mm + fall == pytest.approx(1.888 * 5.0)


def test_outer_proportions_refuse_an_offset():
    with pytest.raises(InputError, match="without offset"):
        outer_depth(CONES, PAIR, ring_diameter_mm=240.0, face_width_mm=37.0, proportions=Proportions.STRAIGHT_20)


def test_four_pinion_teeth_have_no_factors():
    with pytest.raises(InputError, match="no depth factors are known for 4 pinion teeth"):
        depth_factor(ToothPair(4, 30), hypoid=True)
    assert depth_factor(ToothPair(4, 30), hypoid=False) == 2.0
