"""Many rings at once against one ring at a time, and what no ring can be made of, row by row."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from gear_strategies import designs
from hypothesis import given, settings
from hypothesis import strategies as st

from geartrack.allowances import runout_corners, with_runout
from geartrack.errors import InputError, OutOfRangeError
from geartrack.gearset.blank import GearDesign, blanks
from geartrack.gearset.depth import Taper
from geartrack.gearset.measured import MeasuredRing, measured_section, misfits
from geartrack.gearset.ring import section_of
from geartrack.gearset.sections import drawn_rings, measured_corners
from geartrack.gearset.teeth import ToothPair

DESIGN = GearDesign(ToothPair(8, 39), 240.0, 54.0, 37.0, math.radians(50.0), 95.0)
SPREADS = {  # half widths of what is drawn about a design, in its fields' units
    "ring_diameter_mm": 3.0,
    "offset_mm": 2.0,
    "face_width_mm": 2.0,
    "pinion_spiral": math.radians(4.0),
    "cutter_radius_mm": 15.0,
    "toe_end_angle": math.radians(10.0),
    "toe_chamfer_mm": 1.5,
    "tip_chamfer_mm": 0.5,
}
ONE_SIDED = {"toe_end_angle", "toe_chamfer_mm", "tip_chamfer_mm"}


def drawn(design: GearDesign, count: int, seed: int) -> dict[str, np.ndarray]:
    rng = np.random.default_rng(seed)
    return {
        name: getattr(design, name) + spread * rng.uniform(0.0 if name in ONE_SIDED else -1.0, 1.0, count)
        for name, spread in SPREADS.items()
    }


def one(design: GearDesign, values: dict[str, np.ndarray], i: int) -> GearDesign:
    return replace(design, **{name: float(each[i]) for name, each in values.items()})


@settings(max_examples=25, deadline=None)
@given(designs(), st.integers(0, 2**32 - 1), st.sampled_from(Taper))
def test_each_row_is_one_ring(design, seed, taper):
    design = replace(design, taper=taper)
    values = drawn(design, 6, seed)
    made = []
    for i in range(6):
        try:
            made.append(blanks(one(design, values, i)).ring.section)
        except InputError:
            made.append(None)
    if not any(made):
        with pytest.raises(OutOfRangeError):
            drawn_rings(design, values)
        return
    rings = drawn_rings(design, values)
    assert np.isfinite(rings.corners).all()
    for section, corners, refused in zip(made, rings.corners, rings.refused, strict=True):
        assert (section is None) == bool(refused)
        if section is not None:
            assert section_of(corners).points == pytest.approx(section.points, abs=1e-9)


def test_hypoid_and_bevel_rows_may_stand_side_by_side():
    """An offset drawn about the half millimetre under which a set is worked without one."""
    values = {"offset_mm": np.array([0.0, 0.4, 0.6, 30.0, 0.499999, 0.5])}
    rings = drawn_rings(DESIGN, values)
    for i in range(6):
        section = blanks(one(DESIGN, values, i)).ring.section
        assert section_of(rings.corners[i]).points == pytest.approx(section.points, abs=1e-9)


READ = {
    "toe_height_mm": 38.0,
    "heel_height_mm": 29.5,
    "outside_diameter_mm": 241.0,
    "toe_inside_diameter_mm": 172.0,
    "bore_diameter_mm": 150.0,
    "toe_chamfer_mm": 0.8,
}
SETS = [(), ("toe_height_mm",), ("heel_height_mm",), ("toe_height_mm", "heel_height_mm"), tuple(READ)]


@pytest.mark.parametrize("names", SETS)
def test_readings_are_put_in_row_by_row(names):
    rng = np.random.default_rng(2)
    values = drawn(DESIGN, 8, 5)
    heights = rng.uniform(22.0, 25.0, 8)
    read = {name: READ[name] + rng.uniform(-0.2, 0.2, 8) for name in names}
    corners, refused = measured_corners(drawn_rings(DESIGN, values), MeasuredRing(**read), toe_tip_height_mm=heights)
    kept = 0
    for i in range(8):
        ring = MeasuredRing(**{name: float(each[i]) for name, each in read.items()})
        try:
            section = measured_section(blanks(one(DESIGN, values, i)), ring, toe_tip_height_mm=float(heights[i]))
        except InputError:
            assert refused[i]
            continue
        assert not refused[i]
        assert section_of(corners[i]).points == pytest.approx(section.points, abs=1e-9)
        kept += 1
    assert kept >= 4


NEVER = {  # readings of which one after the other belongs to no such ring
    "toe_height_mm": (38.0, 110.0, 5.0),
    "outside_diameter_mm": (241.0, 260.0, 200.0),
    "toe_inside_diameter_mm": (172.0, 120.0, 230.0),
    "bore_diameter_mm": (150.0, 230.0, -1.0),
}


@pytest.mark.parametrize("name", NEVER)
def test_readings_of_another_ring_are_refused_where_one_ring_refuses_them(name):
    rings = drawn_rings(DESIGN, {"face_width_mm": np.full(3, 37.0)})
    ring = MeasuredRing(**{name: np.array(NEVER[name])})
    corners, refused = measured_corners(rings, ring, toe_tip_height_mm=np.full(3, 23.0))
    assert [bool(each) for each in refused] == [False, True, True]
    assert np.isfinite(corners).all()
    for value, why in zip(NEVER[name], refused, strict=True):
        if why:
            with pytest.raises(InputError):
                measured_section(blanks(DESIGN), MeasuredRing(**{name: value}), toe_tip_height_mm=23.0)


def test_what_makes_no_ring_is_said_in_its_row_alone():
    values = {
        "offset_mm": np.array([54.0, 119.0, 54.0, 54.0, np.nan, 54.0]),
        "cutter_radius_mm": np.array([95.0, 95.0, 1000.0, 95.0, 95.0, 95.0]),
        "toe_chamfer_mm": np.array([0.0, 0.0, 0.0, 30.0, 0.0, -1.0]),
    }
    rings = drawn_rings(DESIGN, values)
    expected = ["", "no pitch cones", "no pitch cones", "toe chamfer", "offset out", "toe chamfer"]
    assert all(start in why for why, start in zip(rings.refused, expected, strict=True))
    assert not rings.refused[0]
    assert np.isfinite(rings.corners).all()
    assert (rings.corners[1:] == rings.corners[0]).all()


def test_a_duplex_taper_that_does_not_exist_is_said():
    design = replace(DESIGN, taper=Taper.DUPLEX, offset_mm=0.0, pinion_spiral=math.radians(35.0))
    rings = drawn_rings(design, {"cutter_radius_mm": np.array([95.0, 30.0])})
    assert [bool(why) for why in rings.refused] == [False, True]


def test_nothing_that_makes_a_ring_is_an_error():
    with pytest.raises(OutOfRangeError, match="no ring can be made"):
        drawn_rings(DESIGN, {"offset_mm": np.array([119.0, 118.0])})


def test_misfits_name_each_reading():
    ring = MeasuredRing(**{name: np.array([value]) for name, value in READ.items()})
    found = misfits(DESIGN, ring, 172.0, 241.0, 10.0)
    assert len(found) == 7
    assert not any(each.any() for each in found.values())


def test_runout_of_many_is_runout_of_each():
    values = drawn(DESIGN, 5, 1)
    corners = drawn_rings(DESIGN, values).corners
    tir = np.linspace(0.0, 0.2, 5)
    moved = runout_corners(corners, tir)
    for i in range(5):
        section = with_runout(section_of(corners[i]), float(tir[i]))
        assert section_of(moved[i]).points == pytest.approx(section.points, abs=1e-12)
