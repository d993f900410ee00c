"""How setting and running move the ring: radial runout against a polygon library, the pinion's move in closed form."""

import numpy as np
import pytest
from demo import demo_job
from shapely import Point, Polygon, union_all

from geartrack.allowances import pinion_factor, radial_corners, with_radial_runout
from geartrack.assembly import WEIGHED, assemble, many, plan
from geartrack.clearance import boss_gap
from geartrack.frame import Hand
from geartrack.gearset.pitch import bevel_cones
from geartrack.gearset.teeth import ToothPair, one_pair
from geartrack.inputs import SETTING
from geartrack.job import GapReading
from geartrack.quantity import give_or_take
from geartrack.spread import Sampling, posterior
from geartrack.spread.band import quantiles
from geartrack.study import check

TOLD = {"caps_torqued": True, "final_preload": True, "bearings": "final", "backlash": give_or_take(0.2, 0.0)}
SAME = {"running__backlash_now": "0.2 mm", "running__backlash_final": "0.2 mm"}


def planned(job, hand=Hand.BELOW):
    return plan(job, one_pair(job.gears.teeth), hand)


def nominal(chosen):
    now = assemble(chosen)
    return boss_gap(now.boss, now.section).nominal_mm


@pytest.mark.parametrize("name", ["grind", "measure", "clears"])
def test_a_ring_that_runs_out_sweeps_what_a_ring_moved_in_and_out_does(name):
    """Shapely: the union of the section at 41 places between TIR/2 in and out, seen from the boss's side."""
    section = assemble(planned(demo_job(name))).section
    stretched = Polygon(with_radial_runout(section, 0.4).points)
    swept = union_all([Polygon(section.moved(dr_mm=dr).points) for dr in np.linspace(-0.2, 0.2, 41)])
    low = section.points[:, 1].min()
    inside = section.points[:, 0].min()
    for r in np.linspace(inside - 5.0, inside + 25.0, 13):
        for z in (low - 4.0, low - 0.7, low - 0.1):
            here = Point(r, z)
            assert stretched.distance(here) == pytest.approx(swept.distance(here), abs=2e-3)
    assert stretched.is_valid
    assert swept.difference(stretched.buffer(1e-6)).area < 0.02  # at the back face's corners, if anywhere


def test_no_runout_is_the_section_itself_and_its_toe_keeps_its_name():
    section = assemble(planned(demo_job("grind"))).section
    corners = radial_corners(section.points, 0.0)
    lowest = section.points[:, 1].argmin()
    assert np.delete(corners, lowest, axis=0) == pytest.approx(section.points)
    assert set(with_radial_runout(section, 0.1).edges) == set(section.edges)


@pytest.mark.parametrize("hand", Hand)
def test_radial_runout_takes_gap_off_by_no_more_than_its_half(hand):
    """A ring moved by d takes no more than d off the gap, and the toe comes straight at a boss that lies inside it."""
    chosen = planned(demo_job("grind"), hand)
    values = {"running.radial_runout": np.array([0.0, 0.1])}
    low, high = many(chosen, values, 2).gaps()
    assert 0.1 * 0.05 < low[0] - high[1] < 0.1 / 2 + 0.01
    assert (low[0] + high[0]) / 2 == pytest.approx(nominal(chosen), abs=0.006)


@pytest.mark.parametrize("pair", [ToothPair(7, 35), ToothPair(11, 41), ToothPair(10, 30)])
def test_a_bevel_pinion_moved_in_moves_the_ring_by_one_over_the_ratio(pair):
    """Closed form: at 90 degrees sin d1 / sin d2 = cos d2 / sin d2 = z1 / z2."""
    cones = bevel_cones(pair, ring_diameter_mm=240.0, face_width_mm=37.0, spiral=0.6)
    assert pinion_factor(cones) == pytest.approx(pair.pinion / pair.ring)


def test_a_hypoid_pinion_moved_in_keeps_the_cones_touching():
    """At the mean point the cones' common normal has sin d1 along the pinion and sin d2 along the ring's axis: moves
    along the two axes keep touch where their parts along the normal are alike (DESIGN 2.2)."""
    pitch = assemble(planned(demo_job("grind"))).blanks.pitch
    normal = np.array([np.sin(pitch.pinion_angle), np.cos(pitch.pinion_angle) * np.cos(pitch.eta)])
    assert normal[1] == pytest.approx(np.sin(pitch.ring_angle), abs=1e-9)
    assert pinion_factor(pitch) * normal[1] == pytest.approx(normal[0])


@pytest.mark.parametrize("hand", Hand)
def test_a_pinion_moved_after_the_gap_was_read_opens_it(hand):
    """The gap read is the gap then; the ring that follows the pinion goes back by dp sin d1 / sin d2."""
    read = (GapReading(gap=give_or_take(0.5, 1e-4), **TOLD),)
    still = planned(demo_job("measure", **SAME).model_copy(update={"readings": read}), hand)
    moved = demo_job("measure", running__pinion_moved="0.8 mm +/- 0.01 mm", **SAME).model_copy(
        update={"readings": read}
    )
    then, after = assemble(still), assemble(planned(moved, hand))
    back = 0.8 * pinion_factor(then.blanks.pitch)
    assert nominal(still) == pytest.approx(0.5, abs=2e-3)
    expected = boss_gap(then.boss, then.section.moved(dz_mm=back)).nominal_mm
    assert boss_gap(after.boss, after.section).nominal_mm == pytest.approx(expected, abs=2e-3)
    drawn = posterior(planned(moved, hand), Sampling(512, 3))
    middle = quantiles((drawn.low + drawn.high) / 2, drawn.weights, np.array([0.5]))[0]
    assert middle == pytest.approx(expected, abs=0.08)  # both runouts take some off, on the careful side


def test_a_pinion_moved_does_not_move_what_was_read_of_the_ring_itself():
    """A height is of the ring as it stood; the move comes after it."""
    moved = planned(demo_job("grind", running__pinion_moved="0.4 mm"))
    assert moved.inputs[WEIGHED].value == planned(demo_job("grind")).inputs[WEIGHED].value
    assert nominal(moved) > nominal(planned(demo_job("grind")))


def test_all_of_it_can_be_turned_off():
    off = {f"running__{each}": "0 mm" for each in ("runout", "radial_runout", "pinion_moved", "deflection", "heat")}
    inputs = planned(demo_job("grind", **off)).inputs
    assert [name for name in SETTING if inputs[name].spread] == ["running.backlash"]


def test_each_has_its_source_and_its_share():
    answer = check(demo_job("grind", running__radial_runout="0.006 in", running__pinion_moved="0 in +/- 0.010 in"))
    shares = {share.name: share for share in answer.band.shares}
    assert shares["running.radial_runout"].up == 0.0 < shares["running.radial_runout"].down
    both = shares["running.pinion_moved"]
    assert both.down == pytest.approx(both.up, rel=0.2)
    plain = check(demo_job("grind")).inputs
    assert {plain[name].source for name in SETTING} >= {"from memory"}


@pytest.mark.parametrize(
    ("key", "typed", "said"),
    [
        ("running__radial_runout", "-0.002 in", "is below zero"),
        ("running__radial_runout", "0.003 m", "was 0.003 in meant?"),
        ("running__pinion_moved", "5 mm", "is out of range; between"),
        ("running__pinion_moved", "0.1", "has no unit"),
    ],
)
def test_what_cannot_be_is_refused(key, typed, said):
    with pytest.raises(Exception, match=said.replace("?", r"\?").replace(".", r"\.")):
        demo_job("grind", **{key: typed})
