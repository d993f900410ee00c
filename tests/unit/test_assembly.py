"""What moves the ring against the boss, and which way: each stated amount with its sign (DESIGN 2.3, 5)."""

import numpy as np
import pytest
from demo import demo_job

from geartrack.allowances import backlash_factor, with_runout
from geartrack.assembly import assemble, closer_by, for_pair, plan, turning_bodies
from geartrack.clearance import boss_gap
from geartrack.errors import InputError
from geartrack.frame import Hand
from geartrack.gearset.teeth import ToothPair
from geartrack.quantity import Origin
from geartrack.sweep import signed_distance

PAIR = ToothPair(7, 36)


def planned(job, pair=PAIR, hand=Hand.BELOW):
    return plan(job, pair, hand)


def lowest(assembly) -> float:
    return float(assembly.section.points[:, 1].min())


def gap(assembly) -> float:
    return boss_gap(assembly.boss, assembly.section).nominal_mm


def test_a_measured_back_face_outweighs_the_pitch_cones_but_does_not_override_them():
    placed = planned(demo_job("grind")).placement
    cones, back = (e.toe_tip for e in placed.evidence)
    assert back.spread < cones.spread
    assert min(cones.value, back.value) <= placed.toe_tip.value <= max(cones.value, back.value)
    assert abs(placed.toe_tip.value - back.value) < abs(placed.toe_tip.value - cones.value)


def test_the_section_stands_at_the_weighed_height_with_the_measured_thickness():
    chosen = planned(demo_job("grind"))
    now = assemble(chosen)
    height = chosen.inputs["gears.measured.toe_height"].value
    assert lowest(now) == pytest.approx(chosen.placement.toe_tip.value)
    assert now.section.points[:, 1].max() == pytest.approx(lowest(now) + height)


def test_a_thicker_ring_on_the_same_back_face_comes_nearer():
    """0.020 in more height at the toe, same back face: the back face's evidence brings the tips 0.020 in nearer."""
    base = demo_job("grind")
    thick = base.model_copy(
        update={
            "gears": base.gears.model_copy(
                update={
                    "measured": base.gears.measured.model_copy(
                        update={
                            "toe_height": base.gears.measured.toe_height.at(
                                base.gears.measured.toe_height.value + 0.508
                            )
                        }
                    )
                }
            )
        }
    )
    before, after = (planned(job).placement.evidence[1].toe_tip.value for job in (base, thick))
    assert after - before == pytest.approx(-0.508, abs=1e-4)


def test_more_backlash_moves_the_ring_away_and_runout_only_nearer():
    chosen = planned(demo_job("grind"))
    now = assemble(chosen)
    more = assemble(chosen, {"running.backlash": 0.1})
    assert lowest(more) - lowest(now) == pytest.approx(0.1 * backlash_factor(now.blanks.pitch))
    assert gap(more) > gap(now)
    assert gap(assemble(chosen, {"running.runout": 0.1})) < gap(now)


def test_backlash_factor_is_near_what_the_trade_says():
    """Trade: 1.3 to 2.0 (maker data, 0.002 in of shim to 0.001 in); geometry gives 1.2 to 1.5 at the mean radius."""
    factor = backlash_factor(assemble(planned(demo_job("grind"))).blanks.pitch)
    assert 1.2 < factor < 1.5


def test_runout_tilts_about_the_seat():
    """Closed form: at the back face's height a point moves only along the axis, by TIR/2 at the outside radius."""
    section = assemble(planned(demo_job("grind"))).section
    moved = with_runout(section, 0.2)
    outside = section.points[:, 0].argmax()
    assert (moved.points - section.points)[outside, 1] == pytest.approx(-0.1)
    seat = section.points[:, 1] == section.points[:, 1].max()
    assert np.allclose((moved.points - section.points)[seat, 0], 0.0)
    assert ((moved.points - section.points)[:, 1] < 0).all()


@pytest.mark.parametrize("hand", Hand)
def test_a_boss_off_centre_toward_the_ring_loses_gap(hand):
    chosen = planned(demo_job("grind"), hand=hand)
    now, toward = assemble(chosen), assemble(chosen, {"case.outside_off_centre_toward": 0.2})
    assert gap(toward) < gap(now)


def test_load_brings_the_ring_straight_nearer():
    chosen = planned(demo_job("grind"))
    assert lowest(assemble(chosen)) - lowest(assemble(chosen, {"running.deflection": 0.1})) == pytest.approx(0.1)


def test_a_boss_grown_evenly_loses_exactly_its_growth():
    chosen = planned(demo_job("grind"))
    assert closer_by(chosen, {"case.outside_size": 0.3}) - closer_by(chosen) == pytest.approx(0.3)


def test_another_tooth_pair_drops_what_was_read_of_this_set():
    other = for_pair(demo_job("grind"), ToothPair(8, 39))
    assert other.gears.measured.toe_height is None
    assert other.gears.pinion_spiral == demo_job("grind").gears.pinion_spiral
    assert not planned(other, ToothPair(8, 39)).ring_placed


def test_a_set_for_another_flange_is_refused_before_any_gap():
    with pytest.raises(InputError, match="made for a carrier ring flange") as refused:
        planned(demo_job("grind", axle__carrier_flange_height="55 mm"))
    assert "carrier" in str(refused.value)
    assert "\n" not in str(refused.value)


def test_a_spacer_makes_up_for_a_lower_flange():
    """A flange 4 mm further from the pinion and a 4 mm spacer come to the same."""
    planned(demo_job("grind", axle__carrier_flange_height="66 mm", axle__ring_spacer="4 mm"))


def test_thick_and_thin_sets_fit_the_flange_they_are_made_for():
    thick = {"gears__set": "thick", "gears__set_thickness": "6 mm"}
    planned(demo_job("grind", axle__carrier_flange_height="68 mm", **thick))
    with pytest.raises(InputError, match="made for a carrier ring flange"):
        planned(demo_job("grind", **thick))
    thin = {"gears__set": "thin", "gears__set_thickness": "6 mm"}
    planned(demo_job("grind", axle__carrier_flange_height="56 mm", **thin))


def test_inputs_not_typed_are_defaults_with_a_source():
    for name, quantity in planned(demo_job("measure")).inputs.items():
        if quantity.origin is Origin.DEFAULT and quantity.spread:
            assert quantity.source, name


def test_turning_bodies_may_be_listed_either_way_round():
    job = demo_job("grind")
    body = job.turning[0]
    other = job.model_copy(update={"turning": (body.model_copy(update={"section": body.section[::-1]}),)})
    point = np.array([[20.0, 50.0], [20.0, 0.0]])
    one, two = turning_bodies(job)[0], turning_bodies(other)[0]
    assert signed_distance(one, point) == pytest.approx(signed_distance(two, point))
    assert signed_distance(one, point)[0] < 0
