"""Pitch cones: the solver, the dispatch, the refusals. What vouches for the numbers is under validation and
properties."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.optimize import brentq

from geartrack.errors import InputError, OutOfRangeError
from geartrack.gearset.pitch import (
    PitchCones,
    bevel_cones,
    hypoid_cones,
    hypoid_cones_at,
    hypoid_start,
    pitch_cones,
)
from geartrack.gearset.roots import bracketed_root, nearest_brackets
from geartrack.gearset.teeth import ToothPair

PAIR = ToothPair(8, 39)
AXLE = {
    "ring_diameter_mm": 240.0,
    "face_width_mm": 37.0,
    "offset_mm": 54.0,
    "pinion_spiral": math.radians(50.0),
    "cutter_radius_mm": 95.0,
}


@pytest.mark.parametrize("pair", [ToothPair(11, 40), PAIR, ToothPair(6, 35)])
def test_the_root_is_the_one_scipy_finds(pair):
    size = {k: v for k, v in AXLE.items() if k != "cutter_radius_mm"}
    start = hypoid_start(pair.ratio, **size)

    def excess(eta: float) -> float:
        return float(AXLE["cutter_radius_mm"] * hypoid_cones_at(eta, start).limit_curvature_per_mm - 1)

    eta = brentq(excess, start.eta, 2.0 * start.eta, xtol=1e-15, rtol=1e-14)
    assert hypoid_cones(pair, **AXLE).eta == pytest.approx(eta, rel=1e-11)


def test_many_designs_at_once_are_the_designs_one_by_one():
    rng = np.random.default_rng(3)
    many = {k: v * (1 + 0.03 * rng.standard_normal(40)) for k, v in AXLE.items()}
    together = hypoid_cones(PAIR, **many)
    for i in range(40):
        alone = hypoid_cones(PAIR, **{k: float(v[i]) for k, v in many.items()})
        for name in ("pinion_angle", "ring_angle", "eta", "ring_spiral", "pinion_mean_radius_mm"):
            assert getattr(together, name)[i] == pytest.approx(getattr(alone, name), rel=1e-11), name
        assert together.mean_point_height_mm[i] == pytest.approx(alone.mean_point_height_mm, rel=1e-11)


def test_shapes_broadcast_and_scalars_come_back_as_floats():
    spiral, cutter = np.radians([[48.0], [50.0]]), np.array([80.0, 95.0, 110.0])
    wide = hypoid_cones(PAIR, **{**AXLE, "pinion_spiral": spiral, "cutter_radius_mm": cutter})
    assert wide.eta.shape == (2, 3)
    assert all(type(v) is float for k, v in vars(hypoid_cones(PAIR, **AXLE)).items() if k != "notes")


def test_the_standards_stop_lies_within_a_percent_of_the_cutter_and_is_not_exact():
    loose, exact = hypoid_cones(PAIR, **AXLE, stop="standard"), hypoid_cones(PAIR, **AXLE)
    off = 1 / loose.limit_curvature_per_mm / AXLE["cutter_radius_mm"] - 1
    assert 1e-9 < abs(off) <= 0.01
    assert 1 / exact.limit_curvature_per_mm == pytest.approx(AXLE["cutter_radius_mm"], rel=1e-11)
    # DESIGN 2.1: exact and standard differ by up to 0.12 deg and 0.5 mm.
    assert abs(math.degrees(loose.pinion_angle - exact.pinion_angle)) < 0.12
    assert abs(loose.mean_point_height_mm - exact.mean_point_height_mm) < 0.5


@pytest.mark.parametrize("offset", [0.0, 0.3, 0.499])
def test_a_tiny_offset_is_worked_as_bevel_and_said(offset):
    cones = pitch_cones(PAIR, **{**AXLE, "offset_mm": offset})
    bevel = bevel_cones(PAIR, ring_diameter_mm=240.0, face_width_mm=37.0, spiral=AXLE["pinion_spiral"])
    assert cones.ring_angle == bevel.ring_angle
    assert cones.offset_mm == 0
    assert bool(cones.notes) == (offset > 0)
    assert cones.limit_pressure_angle == 0


def test_bevel_cones_in_closed_form():
    """tan d2 = u; the two cones share their apex at the crossing point."""
    cones = bevel_cones(ToothPair(10, 41), ring_diameter_mm=230.0, face_width_mm=30.0, spiral=0.6)
    assert math.tan(cones.ring_angle) == pytest.approx(4.1)
    assert cones.pinion_angle + cones.ring_angle == pytest.approx(math.pi / 2)
    assert cones.ring_cone_distance_mm == pytest.approx(115.0 / math.sin(cones.ring_angle) - 15.0)
    assert cones.ring_apex_beyond_mm == pytest.approx(0.0, abs=1e-12)
    assert cones.pinion_apex_beyond_mm == pytest.approx(0.0, abs=1e-12)
    assert cones.mean_point_x_mm == pytest.approx(cones.ring_mean_radius_mm)


def test_every_bad_input_is_named_at_once():
    with pytest.raises(InputError) as caught:
        pitch_cones(
            PAIR,
            ring_diameter_mm=240.0,
            face_width_mm=200.0,
            offset_mm=-1.0,
            pinion_spiral=math.radians(80.0),
            cutter_radius_mm=float("nan"),
        )
    assert {f.where for f in caught.value.findings} == {
        "gears.face_width",
        "gears.offset",
        "gears.pinion_spiral",
        "gears.cutter_radius",
    }


@pytest.mark.parametrize("stop", ["exact", "standard"])
def test_an_offset_too_large_for_the_ring_is_named(stop):
    with pytest.raises(OutOfRangeError, match=r"gears\.offset: no pitch cones exist for an offset of 119\.0 mm"):
        pitch_cones(PAIR, **{**AXLE, "offset_mm": 119.0}, stop=stop)


def test_a_cutter_that_suits_no_cones_is_named_with_its_range():
    """The range printed is the true one: just inside it a solution exists, just outside none."""
    with pytest.raises(OutOfRangeError, match=r"gears\.cutter_radius: .* over (\d+) mm and under (\d+) mm") as caught:
        pitch_cones(PAIR, **{**AXLE, "cutter_radius_mm": 1100.0})
    words = str(caught.value).split("a cutter radius over ")[1].split(" mm")
    least, most = float(words[0]), float(words[1].split()[-1])
    for radius in (least + 1, most - 1):
        assert pitch_cones(PAIR, **{**AXLE, "cutter_radius_mm": radius}).eta > 0
    for radius in (least - 1, most + 1):
        with pytest.raises(OutOfRangeError):
            pitch_cones(PAIR, **{**AXLE, "cutter_radius_mm": radius})


def test_one_bad_design_among_many_is_an_error_not_a_nan():
    cutters = np.array([95.0, 1100.0, 95.0])
    with pytest.raises(OutOfRangeError, match="1100"):
        hypoid_cones(PAIR, **{**AXLE, "cutter_radius_mm": cutters})


def test_brackets_nearest_to_the_start_and_their_number():
    grid = np.linspace(0.0, 4.0, 9)[None, :]
    values = np.cos(np.pi * grid)  # changes sign at 0.5, 1.5, 2.5, 3.5
    low, high, count = nearest_brackets(grid, values, np.array([2.6]))
    assert low[0] <= 2.5 <= high[0]
    assert count[0] == 4
    values[0, 3:] = np.nan
    assert nearest_brackets(grid, values, np.array([2.6]))[2][0] == 1


def test_several_solutions_take_the_nearest_and_say_so():
    """Closed form: f = (x - 1)(x - 2)(x - 3) near 2.2 has its nearest root at 2."""
    grid = np.linspace(0.5, 3.7, 17)[None, :]

    def f(x):
        return (x - 1) * (x - 2) * (x - 3)

    low, high, count = nearest_brackets(grid, f(grid), np.array([2.2]))
    assert count[0] == 3
    assert bracketed_root(f, low, high)[0] == pytest.approx(2.0)


def test_a_root_met_exactly_does_not_divide_by_nought():
    found = bracketed_root(lambda x: x - 1.0, np.array([0.0, 1.0]), np.array([1.0, 2.0]))
    assert found == pytest.approx([1.0, 1.0])


def test_one_design_and_many_have_the_same_roots():
    """numpy's polynomial roots for one design against scipy's bracketing finder for the same design twice over."""
    for teeth, cutter in ((ToothPair(8, 39), 95.0), (ToothPair(6, 35), 76.2), (ToothPair(11, 40), 114.3)):
        one = hypoid_cones(teeth, **{**AXLE, "cutter_radius_mm": cutter})
        many = hypoid_cones(teeth, **{**AXLE, "cutter_radius_mm": np.full(2, cutter)})
        assert many.eta[0] == pytest.approx(one.eta, rel=1e-12)


def test_no_sign_change_is_refused_not_returned():
    with pytest.raises(OutOfRangeError, match="no solution"):
        bracketed_root(lambda x: x - 3.0, np.array([0.0]), np.array([1.0]))


def test_pitch_cones_are_frozen():
    with pytest.raises(AttributeError):
        hypoid_cones(PAIR, **AXLE).eta = 0.0
    assert isinstance(hypoid_cones(PAIR, **AXLE), PitchCones)
