"""Usual values: every one with limits, origin and source, and a design that works from them."""

from __future__ import annotations

import math

import pytest

from geartrack.gearset.blank import GearDesign, blanks
from geartrack.gearset.defaults import default_design, pinion_spiral_deg
from geartrack.gearset.teeth import ToothPair
from geartrack.quantity import Origin, Quantity, Shape

MM = ("face_width", "cutter_radius", "toe_chamfer", "tip_chamfer")


def design_from(pair: ToothPair, ring: float, offset: float) -> GearDesign:
    usual = default_design(pair, ring, offset)
    fields = {f"{k}_mm" if k in MM else k: q.value for k, q in usual.items()}
    return GearDesign(pair, ring, offset, **fields)


def within(quantity: Quantity, low: float, high: float) -> bool:
    return low <= quantity.value <= high


@pytest.mark.parametrize("teeth", [(13, 40), (11, 40), (10, 41), (9, 37), (8, 39), (7, 36), (6, 39), (5, 33)])
@pytest.mark.parametrize("part", [0.0, 0.1, 0.15, 0.25])
def test_defaults_make_a_set_at_every_usual_size(teeth, part):
    for ring in (200.0, 228.6, 254.0):
        built = blanks(design_from(ToothPair(*teeth), ring, part * ring))
        assert built.ring.toe_tip_height_mm > 0


def test_every_default_says_where_it_is_from():
    for name, quantity in default_design(ToothPair(8, 39), 228.6, 57.15).items():
        assert quantity.origin is Origin.DEFAULT, name
        assert "memory" in quantity.source or "web" in quantity.source, name
        assert quantity.low < quantity.high, name


def test_trade_ranges_of_a_nine_inch_ring():
    """From memory, trade knowledge section 4: face about 1.40 in on 9 in; pinion spiral 45 to 52 degrees; cutter radius
    3.0 to 4.5 in for 8 to 10 in rings."""
    usual = default_design(ToothPair(9, 37), 228.6, 57.15)
    assert within(usual["face_width"], 1.38 * 25.4, 1.42 * 25.4)
    assert within(usual["pinion_spiral"], math.radians(45.0), math.radians(52.0))
    for ring in (203.2, 228.6, 254.0):
        assert within(default_design(ToothPair(9, 37), ring, 0.2 * ring)["cutter_radius"], 3.0 * 25.4, 4.5 * 25.4)


def test_the_screening_formula_and_where_it_is_held():
    """DESIGN 2.4: 25 + 5 sqrt(u) + 90 E/D, from memory; 0.15 of offset at 4:1 gives 48.5."""
    assert pinion_spiral_deg(4.0, 0.15) == pytest.approx(48.5)
    free = default_design(ToothPair(10, 40), 200.0, 30.0)["pinion_spiral"]
    assert math.degrees(free.value) == pytest.approx(48.5)
    assert math.degrees(free.high - free.value) == pytest.approx(2.0)
    held = default_design(ToothPair(8, 39), 228.6, 57.15)["pinion_spiral"]
    assert math.degrees(held.value) == pytest.approx(50.0)
    assert "gives 58.5 deg" in held.source


def test_unmeasured_edges_are_one_sided():
    usual = default_design(ToothPair(8, 39), 228.6, 57.15)
    for name in ("toe_chamfer", "tip_chamfer", "toe_end_angle"):
        assert usual[name].low == usual[name].value == 0.0
    assert usual["toe_chamfer"].high == 1.5


def test_cutter_limits_are_the_neighbouring_heads():
    """Usual heads, from memory: 6, 7.5 and 9 in across."""
    cutter = default_design(ToothPair(8, 39), 228.6, 57.15)["cutter_radius"]
    assert (cutter.low, cutter.value, cutter.high) == pytest.approx((76.2, 95.25, 114.3))
    assert cutter.shape is Shape.UNIFORM


def test_bevel_face_is_a_third_of_the_cone_or_ten_modules():
    """Web rule (unreviewed): face <= a third of the outer cone distance or 10 over the pitch, the smaller."""
    few = default_design(ToothPair(10, 20), 120.0, 0.0)["face_width"].value
    assert few == pytest.approx(120.0 / (2 * math.sin(math.atan(2.0))) / 3)
    many = default_design(ToothPair(13, 42), 210.0, 0.0)["face_width"].value
    assert many == pytest.approx(210.0 / (2 * math.sin(math.atan(42 / 13))) / 3)
    fine = default_design(ToothPair(40, 80), 240.0, 0.0)["face_width"].value
    assert fine == pytest.approx(30.0)


def test_five_pinion_teeth_are_marked_extrapolated():
    assert "extrapolated" in default_design(ToothPair(5, 33), 228.6, 57.15)["depth_factor"].source
    assert "extrapolated" not in default_design(ToothPair(6, 37), 228.6, 57.15)["depth_factor"].source
