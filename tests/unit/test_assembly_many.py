"""Many placements at once are what `assemble` makes of each; what cannot be made is said."""

import numpy as np
import pytest
from demo import demo_job

from geartrack.assembly import WEIGHED, assemble, closer_by, many, plan
from geartrack.assembly.many import edge_steps_missed
from geartrack.clearance import boss_gap
from geartrack.frame import Hand
from geartrack.gearset.teeth import one_pair
from geartrack.spread.draws import draw


def planned(name, **changes):
    job = demo_job(name, **changes)
    return plan(job, one_pair(job.gears.teeth), job.axle.hand or Hand.BELOW)


@pytest.mark.parametrize("name", ["grind", "measure", "aluminium", "grind-by-readings"])
@pytest.mark.parametrize("hand", [Hand.BELOW, Hand.ABOVE])
def test_row_by_row_they_are_one_assembly(name, hand):
    job = demo_job(name)
    made = plan(job, one_pair(job.gears.teeth), hand)
    values = draw(made.inputs, count=256)
    worked = many(made, values, 256)
    corners = worked.sections()
    low, high = worked.gaps()
    assert worked.made.all()
    for i in range(0, 256, 37):
        own = {name: float(each[i]) for name, each in values.items()}
        one = assemble(made, own)
        assert corners[i][: len(one.section.points)] == pytest.approx(one.section.points, abs=1e-9)
        gap = boss_gap(one.boss, one.section)
        shift = closer_by(made, own)
        assert low[i] <= gap.upper_mm - shift
        assert high[i] >= gap.lower_mm - shift
        assert high[i] - low[i] < 0.012  # the search, the facets, and how straight the gap runs from mesh to mesh


def test_heights_given_stand_in_for_the_plan_s_own():
    made = planned("grind")
    assert WEIGHED in made.inputs
    heights = np.array([22.0, 22.5])
    low, _ = many(made, {}, 2).gaps(heights)
    one = [assemble(made, {WEIGHED: height}) for height in heights]
    assert low == pytest.approx([boss_gap(each.boss, each.section).nominal_mm for each in one], abs=0.006)
    # 0.006: facets of 0.004 mm, counted at the lower bound, and the search.


def test_as_read_leaves_the_setting_of_the_backlash_out():
    made = planned("grind")
    values = {"running.backlash": np.array([-0.05, 0.05])}
    low, _ = many(made, values, 2).gaps(as_read=True)
    assert low[0] == pytest.approx(low[1], abs=1e-6)
    low, _ = many(made, values, 2).gaps()
    assert low[1] - low[0] > 0.05  # the ring travels some 1.2 to 1.5 times the backlash (DESIGN 5)


def test_a_draw_that_makes_no_gear_set_is_said():
    made = planned("measure")
    values = {"gears.pinion_spiral": np.radians([50.0, 89.0])}
    assert many(made, values, 2).made.tolist() == [True, False]


def test_where_the_nearest_place_jumps_with_the_edge_break_the_bounds_still_hold():
    """Closed form: min(0.3 e, 0.2) is straight in the edge break e but for its bend at 0.667, between two meshes."""
    nodes = np.array([0.0, 0.25, 0.5, 0.9, 1.5])
    gaps = np.minimum(0.3 * nodes, 0.2)[:, None]
    edge = np.linspace(0, 1.49, 300)
    place = np.searchsorted(nodes, edge, side="right") - 1
    missed = edge_steps_missed(nodes, gaps)[place]
    straight = np.interp(edge, nodes, gaps[:, 0])
    assert (np.abs(straight - np.minimum(0.3 * edge, 0.2)) <= missed + 1e-12).all()
    assert missed[edge < 0.25].max() == pytest.approx(0.0, abs=1e-12)


def test_readings_are_worked_as_the_gap_itself_is():
    made = planned("measure")
    values = draw(made.inputs, count=256)
    worked = many(made, values, 256)
    for down in (0.0, -0.4, 0.13):
        heights = worked.toe_tips + down
        low, high = worked.gaps(heights, as_read=True)
        assert worked.rough_gaps(heights) == pytest.approx((low + high) / 2, abs=0.03)
