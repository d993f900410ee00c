"""The gap over what is not known, given what was read: the demo's story, readings that clash, what is refused."""

from datetime import date

import numpy as np
import pytest
from demo import demo_job

from geartrack.assembly import plan
from geartrack.datafiles import data_path
from geartrack.errors import InputError
from geartrack.gearset.teeth import one_pair
from geartrack.job import Correlated, GapReading, OldGears, read_job
from geartrack.quantity import give_or_take
from geartrack.spread import Sampling, posterior
from geartrack.spread.band import quantiles
from geartrack.study import check
from geartrack.verdict import Code

FEW = Sampling(512, 3)


def planned(job):
    return plan(job, one_pair(job.gears.teeth), job.axle.hand)


STOOD = {"caps_torqued": True, "final_preload": True, "bearings": "final", "backlash": give_or_take(0.2, 0.0)}


def step(number):
    folder = data_path("jobs/steps")
    return read_job(next(folder.glob(f"{number}-*.toml")))


@pytest.fixture(scope="module")
def story():
    return {number: check(step(number), Sampling(1024)) for number in (1, 2, 3)}


def test_the_story_narrows_until_it_can_be_ground(story):
    widths = [story[n].band.high - story[n].band.low for n in (1, 2, 3)]
    assert widths[0] > widths[1] > widths[2]
    assert [story[n].verdict.code for n in (1, 2)] == [Code.MEASURE, Code.MEASURE]
    assert story[3].verdict.code in (Code.GRIND, Code.HITS)
    assert story[3].cuts.hold.depth_radial_max_mm > story[3].cuts.least.depth_radial_max_mm > 0


def test_the_old_gears_gap_is_shown_as_what_it_rests_on(story):
    answer = story[3]
    assert "the old set" in [each.name for each in answer.placement.evidence]
    assert answer.band.effective > 200
    assert answer.band.flagged == ()
    assert answer.gap.nominal_mm == pytest.approx(answer.band.middle, abs=0.02)


def test_the_verdict_rests_on_the_draws_and_the_straight_sum_stands_beside(story):
    band = story[1].band
    assert band.draws == 1024
    assert band.worst.low < band.low < band.middle < band.high < band.worst.high
    assert 0 < band.p_target < 1
    assert sum(part.share for part in band.budget) == pytest.approx(1.0)


def test_an_old_gap_beyond_belief_is_named_and_decides_nothing():
    job = step(3)
    far = job.readings[0].model_copy(update={"gap": give_or_take(9.0, 0.04)})
    answer = check(job.model_copy(update={"readings": (far,)}), FEW)
    assert "the gap read" in answer.band.flagged
    assert answer.verdict.code is Code.MEASURE
    assert "the gap read does not go with the rest" in answer.verdict.reason


def test_an_old_gap_may_be_larger_than_a_tooth_of_this_set():
    """A coarse old ratio stands far off: only a reading with this set is held against this set's teeth."""
    job = step(3)
    far = job.readings[0].model_copy(update={"gap": give_or_take(14.0, 0.1)})
    assert planned(job.model_copy(update={"readings": (far,)})).old.against
    with pytest.raises(InputError, match="larger than a tooth"):
        planned(job.model_copy(update={"readings": (far.model_copy(update={"gears": "this set"}),)}))


def test_two_gaps_that_clash_are_both_looked_at():
    readings = tuple(GapReading(gap=give_or_take(g, 0.04), **STOOD) for g in (0.30, 1.30))
    answer = check(demo_job("measure").model_copy(update={"readings": readings}), FEW)
    assert answer.verdict.code is Code.MEASURE


def test_a_gap_read_leaves_little_more_than_its_own_give_or_take():
    job = demo_job("measure").model_copy(update={"readings": (GapReading(gap=give_or_take(0.80, 0.04), **STOOD),)})
    band = check(job, FEW).band
    assert band.low < 0.80 < band.high
    # The setting of the backlash (0.002 in, times 1.2 to 1.5) and the runout come on top of the feeler's 0.04 mm.
    assert band.high - band.low < 0.35


def test_the_old_set_shares_boss_and_case_but_not_its_gears():
    """A boss that stands further out takes as much off both gaps, so the old gap read says nothing of it alone."""
    job = step(3)
    plain, oversize = (
        posterior(planned(job.model_copy(update={"readings": each})), Sampling(1024, 5)) for each in ((), job.readings)
    )
    assert plain.old_low is None
    size = oversize.values["case.outside_size"]
    assert np.average(size, weights=oversize.weights) == pytest.approx(0.0, abs=0.02)
    assert "old.gears.face_width" not in oversize.values


def test_the_same_seed_gives_the_same_band_and_another_one_nearly():
    job = demo_job("measure")
    one, again, other = (check(job, Sampling(1024, seed)).band for seed in (1, 1, 2))
    assert (one.low, one.high) == (again.low, again.high)
    assert one.low != other.low
    assert abs(one.low - other.low) < 6 * (one.low_error + other.low_error)


def test_correlated_inputs_narrow_or_widen_as_they_pull():
    """Size and place of the boss's outside both bring it nearer: erring together they make more, against less."""
    job = demo_job("grind", case__outside_size="0 mm +/- 0.3 mm", case__outside_off_centre="0 mm +/- 0.3 mm")
    widths = []
    for by in (-0.9, 0.0, 0.9):
        pair = Correlated(first="case.outside_size", second="case.outside_off_centre_toward", by=by)
        found = posterior(planned(job.model_copy(update={"correlated": (pair,)})), FEW)
        low, high = quantiles(found.low, found.weights, np.array([0.025, 0.975]))
        widths.append(high - low)
    assert widths[0] < widths[1] < widths[2]


def test_a_correlation_of_what_is_no_input_is_refused():
    pair = Correlated(first="gears.colour", second="axle.offset", by=0.5)
    with pytest.raises(InputError, match=r"gears\.colour"):
        check(demo_job("grind").model_copy(update={"correlated": (pair,)}), FEW)


def test_readings_say_by_whom_and_when():
    taken = step(3).readings[0]
    assert (taken.by, taken.date) == ("TR", date(2026, 11, 20))
    assert OldGears().teeth == ""
