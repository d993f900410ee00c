"""Where the teeth run: signs of every stated amount, weights, disagreement, and what a pinion's roots say."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from geartrack.errors import InputError
from geartrack.gearset.blank import GearDesign, blanks
from geartrack.gearset.depth import Taper
from geartrack.gearset.place import (
    ADJUSTER_TRAVEL,
    MODEL_SPREAD_MM,
    Evidence,
    flange_mismatch,
    from_back_face,
    from_pinion_roots,
    from_pitch_cones,
    old_set_back_face,
    weigh,
)
from geartrack.gearset.teeth import ToothPair
from geartrack.quantity import Origin, Quantity, give_or_take

STEEP = GearDesign(ToothPair(8, 39), 240.0, 54.0, 37.0, math.radians(50.0), 95.0)
BACK = give_or_take(58.0, 0.1, Origin.MEASURED, "depth micrometer")
HEIGHT = give_or_take(34.0, 0.03, Origin.MEASURED, "height gauge")


def exact(value: float) -> Quantity:
    return give_or_take(value, 0.0)


def test_pitch_cones_carry_the_models_own_term():
    assert from_pitch_cones(24.0).toe_tip.spread == MODEL_SPREAD_MM
    assert from_pitch_cones(24.0, inputs_spread_mm=1.2).toe_tip.spread == pytest.approx(1.3)
    assert from_pitch_cones(24.0).toe_tip.origin is Origin.DEFAULT


def test_back_face_less_height():
    found = from_back_face(BACK, HEIGHT).toe_tip
    assert found.value == pytest.approx(24.0)
    assert found.spread == pytest.approx(math.hypot(0.1, 0.03))
    assert found.origin is Origin.MEASURED


def test_a_thicker_set_at_the_same_flange_runs_nearer_the_pinion_by_that_much():
    thicker = HEIGHT.at(HEIGHT.value + 10.16)
    near, far = from_back_face(BACK, thicker), from_back_face(BACK, HEIGHT)
    assert near.toe_tip.value - far.toe_tip.value == pytest.approx(-10.16)


@pytest.mark.parametrize(
    ("change", "moves"),
    [
        ({"spacer_change": exact(3.0)}, -3.0),
        ({"spacer_change": exact(-3.0)}, 3.0),
        ({"flange_change": exact(2.0)}, 2.0),
        ({"flange_change": exact(-2.0)}, -2.0),
        ({"flange_change": exact(2.0), "spacer_change": exact(2.0)}, 0.0),
        ({"adjuster_travel": exact(0.4)}, 0.4),
    ],
)
def test_each_stated_amount_moves_the_back_face_its_own_way(change, moves):
    """A thicker ring spacer sets the ring nearer the pinion (-Z), a flange higher above the pinion's line further
    (+Z)."""
    assert old_set_back_face(BACK, **change).value - BACK.value == pytest.approx(moves)


def test_the_old_sets_back_face_is_only_good_to_the_adjusters_travel():
    """30 thousandths of an inch is 0.762 mm exactly."""
    assert ADJUSTER_TRAVEL.high == pytest.approx(0.030 * 25.4)
    assert old_set_back_face(BACK).spread == pytest.approx(math.hypot(0.1, 0.762))
    wide = old_set_back_face(BACK, spacer_change=give_or_take(3.0, 0.5))
    assert wide.spread == pytest.approx(math.hypot(0.1, 0.762, 0.5))


def evidence(value: float, spread: float, name: str = "pitch cones") -> Evidence:
    return Evidence(name, give_or_take(value, spread))


spreads = st.floats(0.01, 5.0)


@given(st.lists(st.tuples(st.floats(20.0, 30.0), spreads), min_size=1, max_size=5))
def test_weights_are_inverse_variance(pairs):
    """Closed form of the weighted mean; it never leaves the span of the evidence and is never less sure than the
    best."""
    found = weigh([evidence(v, s) for v, s in pairs])
    values, weights = np.array([v for v, _ in pairs]), np.array([s for _, s in pairs]) ** -2.0
    assert found.toe_tip.value == pytest.approx(np.average(values, weights=weights))
    assert values.min() - 1e-9 <= found.toe_tip.value <= values.max() + 1e-9
    if found.disagreement is None:
        assert found.toe_tip.spread == pytest.approx(weights.sum() ** -0.5)
        assert found.toe_tip.spread <= min(s for _, s in pairs) + 1e-9
    else:
        assert found.toe_tip.low <= min(v - s for v, s in pairs) + 1e-9
        assert found.toe_tip.high >= max(v + s for v, s in pairs) - 1e-9


def test_no_evidence_overrides_another():
    """However sure the back face is, the pitch cones still pull by their weight."""
    both = weigh([evidence(24.0, 0.5), evidence(24.4, 0.25, "back face")])
    assert both.toe_tip.value == pytest.approx((24.0 / 0.25 + 24.4 / 0.0625) / (1 / 0.25 + 1 / 0.0625))
    assert [e.name for e in both.evidence] == ["pitch cones", "back face"]


@pytest.mark.parametrize(("apart", "said"), [(0.99, False), (1.01, True), (-1.01, True)])
def test_disagreement_beyond_the_joint_spread_is_said_with_its_direction(apart, said):
    cones, back = evidence(24.0, 0.6), evidence(24.0 - apart, 0.8, "back face")
    found = weigh([cones, back])
    assert bool(found.disagreement) == said
    if said:
        near, far = ("back face", "pitch cones") if apart > 0 else ("pitch cones", "back face")
        assert found.disagreement.startswith(f"{near} put the teeth 0.040 in (1.01 mm) nearer the pinion than {far}")
        assert found.disagreement.endswith("thick or thin set, or another flange?")


def test_a_thick_set_on_a_flange_for_thin_ones_is_noticed():
    """The thick set is 0.4 in thicker: the back face puts its teeth 10 mm nearer than any mesh allows."""
    built = blanks(STEEP)
    cones = from_pitch_cones(built.ring.toe_tip_height_mm, inputs_spread_mm=2.0)
    height = exact(BACK.value - built.ring.toe_tip_height_mm)
    assert weigh([cones, from_back_face(BACK, height)]).disagreement is None
    assert "another flange" in weigh([cones, from_back_face(BACK, height.at(height.value + 10.16))]).disagreement


def test_exact_evidence_has_a_finite_weight():
    found = weigh([evidence(24.0, 0.0), evidence(24.3, 0.5)])
    assert found.toe_tip.value == pytest.approx(24.0, abs=1e-9)


def test_no_evidence_is_refused():
    with pytest.raises(InputError, match="nothing says where the teeth run"):
        weigh([])


@pytest.mark.parametrize(
    ("change", "limit_mm"),
    [
        ({"pinion_spiral": math.radians(48.0)}, 0.06),
        ({"pinion_spiral": math.radians(52.0)}, 0.06),
        ({"cutter_radius_mm": 80.0}, 0.06),
        ({"cutter_radius_mm": 115.0}, 0.06),
        ({"addendum_factor": 0.13}, 0.02),
        ({"addendum_factor": 0.18}, 0.02),
        ({"face_width_mm": 34.0}, 0.04),
        ({"face_width_mm": 40.0}, 0.04),
        ({"depth_factor": 1.8}, 0.12),
        ({"depth_factor": 2.0}, 0.12),
        ({"taper": Taper.DUPLEX}, 0.12),
        ({"taper": Taper.UNIFORM}, 0.12),
        ({"clearance_factor": 0.15}, 0.25),
    ],
)
def test_pinion_roots_recover_the_toe_of_a_set_that_is_not_the_assumed_one(change, limit_mm):
    """The real set differs from the design assumed; its pinion's toe root diameter, read with a caliper, tells where
    its ring's toe runs. The limits are what the linear relation leaves (recorded from ourselves, golden); all lie
    inside the spread this evidence carries."""
    assumed, real = blanks(STEEP), blanks(replace(STEEP, **change))
    reading = give_or_take(2 * real.pinion.toe_root_radius_mm, 0.05, Origin.MEASURED, "caliper")
    found = from_pinion_roots(assumed, reading).toe_tip
    assert abs(found.value - real.ring.toe_tip_height_mm) < limit_mm
    assert found.low <= real.ring.toe_tip_height_mm <= found.high


def test_pinion_roots_say_more_than_the_estimate():
    """Two degrees of spiral angle move the toe by nearly a millimetre; the reading takes nine tenths of that away."""
    assumed, real = blanks(STEEP), blanks(replace(STEEP, pinion_spiral=math.radians(52.0)))
    shift = real.ring.toe_tip_height_mm - assumed.ring.toe_tip_height_mm
    found = from_pinion_roots(assumed, exact(2 * real.pinion.toe_root_radius_mm)).toe_tip.value
    assert shift > 0.8
    assert abs(found - real.ring.toe_tip_height_mm) < 0.1 * shift


def test_an_odd_pinions_roots_read_short_by_the_half_pitch():
    """Closed form: the caliper's chord is D cos(pi / (2 z))."""
    odd = blanks(replace(STEEP, pair=ToothPair(7, 36)))
    chord = 2 * odd.pinion.toe_root_radius_mm * math.cos(math.pi / 14)
    assert from_pinion_roots(odd, exact(chord)).toe_tip.value == pytest.approx(odd.ring.toe_tip_height_mm)


def test_the_heel_roots_speak_of_the_heel():
    built = blanks(STEEP)
    found = from_pinion_roots(built, exact(2 * built.pinion.heel_root_radius_mm), end="heel")
    assert found.name == "pinion roots, heel"
    assert found.toe_tip.value == pytest.approx(built.ring.heel_tip_height_mm)


@pytest.mark.parametrize(
    ("given_", "words"),
    [
        ({"flange_height": exact(60.0), "made_for": exact(70.16)}, "0.400 in .* too near the pinion"),
        ({"flange_height": exact(70.16), "made_for": exact(60.0)}, "0.400 in .* too far from the pinion"),
        ({"flange_height": exact(60.0), "made_for": exact(60.0), "set_extra": exact(10.16)}, "too near"),
        ({"flange_height": exact(60.0), "made_for": exact(60.0), "set_extra": exact(-10.16)}, "too far from"),
        ({"flange_height": exact(60.0), "made_for": exact(60.0), "ring_spacer": exact(10.16)}, "too near"),
    ],
)
def test_a_set_for_another_flange_is_refused_before_any_gap(given_, words):
    with pytest.raises(InputError, match=words) as caught:
        flange_mismatch(**given_)
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize(
    "given_",
    [
        {"flange_height": exact(60.0), "made_for": exact(60.7)},
        {"flange_height": exact(70.16), "made_for": exact(60.0), "ring_spacer": exact(10.16)},
        {"flange_height": exact(70.16), "made_for": exact(60.0), "set_extra": exact(10.16)},
        {"flange_height": give_or_take(62.0, 1.5), "made_for": exact(60.0)},
    ],
)
def test_a_set_that_can_mesh_is_let_through(given_):
    """Thick set on the low flange, or thin set with a spacer: the amounts cancel; the rest is in the adjusters'
    travel."""
    assert flange_mismatch(**given_) is None
