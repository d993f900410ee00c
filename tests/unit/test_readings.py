"""Readings that need no feeler access: each conversion's sign and closed form, and a ring found where it was put.

The full model stands in for the bench: the ring is put at a known height, the gap or the travel is read off by means of
its own (certified gap, axial retreat), and the reading must bring the height back.
"""

from math import hypot

import pytest
from demo import demo_job

from geartrack.allowances import backlash_factor
from geartrack.assembly import WEIGHED, assemble, for_pair, plan
from geartrack.clearance import axial_retreat, boss_gap
from geartrack.errors import InputError
from geartrack.frame import Hand
from geartrack.gearset.place import Evidence, Placement, weigh
from geartrack.gearset.teeth import ToothPair
from geartrack.inputs import SETTING
from geartrack.job import BarToToe, GapReading, TouchReading, WindOver
from geartrack.quantity import Quantity, give_or_take
from geartrack.readings import AgainstBoss, Way, against_boss, from_bar, from_boss, missing, pinned, wound_over
from geartrack.study import check
from geartrack.study.check import ranged_gap

PAIR = ToothPair(7, 35)
TOLD = {"caps_torqued": True, "final_preload": True, "bearings": "final"}
FINAL = {"running__backlash_now": "0.2 mm", "running__backlash_final": "0.2 mm"}
SHARP = 1e-4  # mm: a reading so sharp that it alone decides


def exact(value):
    return give_or_take(value, 0.0)


def sharp(value):
    return give_or_take(value, SHARP)


def read(*readings, name="measure", **changes):
    """A demo job known by its tooth counts, backlash 0.2 mm now and in the end, with these readings."""
    return demo_job(name, **{**FINAL, **changes}).model_copy(update={"readings": readings})


def planned(*readings, pair=PAIR, **kept):
    return plan(read(*readings, **kept), pair, Hand.BELOW)


def put(dz_mm):
    """The worked ring moved by dz along its axis: boss, section, and the height of its toe tips."""
    now = assemble(planned())
    return now.boss, now.section.moved(dz_mm=dz_mm), now.blanks.ring.toe_tip_height_mm + dz_mm


def factor():
    return backlash_factor(assemble(planned()).blanks.pitch)


@pytest.mark.parametrize("dz_mm", [-0.6, 0.0, 0.8, 2.5])
def test_a_gap_finds_the_ring_where_it_was_put(dz_mm):
    boss, section, height = put(dz_mm)
    gap = boss_gap(boss, section).nominal_mm
    if gap < 0:  # no feeler reads that: put as a touch instead
        gap_now = TouchReading(backlash_at_touch=sharp(0.2 + axial_retreat(boss, section) / factor()), **TOLD)
    else:
        gap_now = GapReading(gap=sharp(gap), **TOLD)
    found = planned(gap_now)
    assert found.placement.toe_tip.value == pytest.approx(height, abs=4e-3)  # a retreat is found to 0.001 mm of gap
    assert found.ring_placed
    assert boss_gap(boss, assemble(found).section).nominal_mm == pytest.approx(gap, abs=4e-3)


def test_a_touch_before_the_backlash_closes_is_an_overlap_by_the_backlash_factor():
    """DESIGN 5: dz = dj cos bm2/(sin d2 (tan aD + tan aC)); the ring must back off by just that until it touches."""
    found = planned(TouchReading(backlash_at_touch=sharp(0.35), **TOLD))
    now = assemble(found)
    assert boss_gap(now.boss, now.section).upper_mm < 0
    assert axial_retreat(now.boss, now.section) == pytest.approx(0.15 * factor(), abs=3e-3)


def test_a_touch_past_the_final_backlash_is_a_gap():
    now = assemble(planned(TouchReading(backlash_at_touch=sharp(0.05), **TOLD)))
    assert boss_gap(now.boss, now.section).lower_mm > 0
    assert axial_retreat(now.boss, now.section.moved(dz_mm=-0.15 * factor() - 0.01)) == pytest.approx(0.01, abs=3e-3)


@pytest.mark.parametrize("travel_mm", [0.25, 1.5])
def test_a_wind_over_is_a_sideways_travel_never_a_gap(travel_mm):
    now = assemble(planned(WindOver(travel=sharp(travel_mm), **TOLD)))
    gap = boss_gap(now.boss, now.section).nominal_mm
    assert 0 < gap < travel_mm  # the nearest place is not straight under the ring
    wound = now.section.moved(dz_mm=-travel_mm)
    assert boss_gap(now.boss, wound).nominal_mm == pytest.approx(0.0, abs=2e-3)


def test_notches_are_turns_of_a_thread():
    """Closed form: 6 of 24 notches of a 1.5 mm thread are 0.375 mm; the count may be off by a quarter notch."""
    notches = WindOver(notches=exact(6), thread_pitch=exact(1.5), notches_per_turn=exact(24))
    assert wound_over(notches).value == 6 * 1.5 / 24
    assert wound_over(notches).spread == pytest.approx(0.25 * 1.5 / 24)
    rough = WindOver(notches=exact(6), thread_pitch=give_or_take(1.5, 0.1), notches_per_turn=exact(24))
    assert wound_over(rough).spread == pytest.approx(hypot(0.25 * 1.5 / 24, 6 * 0.1 / 24))
    dialled = against_boss(WindOver(travel=sharp(0.375), **TOLD), Way(1.3, 0.0, exact(0.2), exact(0.2)))
    assert dialled is not None
    assert dialled.back.value == -0.375


def test_a_bar_to_the_toe_is_half_the_bar_and_the_gauge():
    evidence = from_bar(
        BarToToe(bar_diameter=give_or_take(38.0, 0.04), gauge=give_or_take(5.3, 0.05), **TOLD),
        Way(1.3, 0.0, exact(0.25), exact(0.2)),
    )
    assert evidence.toe_tip.value == pytest.approx(5.3 + 19.0 - 1.3 * 0.05)
    assert evidence.toe_tip.spread == pytest.approx(hypot(0.02, 0.05))


def test_a_bar_finds_the_ring_where_it_was_put():
    _, _, height = put(0.4)
    found = planned(BarToToe(bar_diameter=sharp(38.0), gauge=sharp(height - 19.0), **TOLD))
    assert found.placement.toe_tip.value == pytest.approx(height, abs=1e-5)
    assert not found.absorbed  # it is not read against the boss


def test_more_backlash_then_means_the_ring_will_stand_nearer():
    """Read at 0.3 mm, run at 0.2: the ring comes nearer by the factor times 0.1."""
    then, same = (planned(GapReading(gap=sharp(0.5), backlash=exact(mm), **TOLD)) for mm in (0.3, 0.2))
    nearer = same.placement.toe_tip.value - then.placement.toe_tip.value
    assert nearer == pytest.approx(0.1 * factor(), abs=2e-3)


def test_a_reading_counts_from_where_the_back_face_was_read():
    """Back face read with this set at 0.3 mm, run at 0.2: weighed heights are those of the reading."""
    changes = {"name": "grind", "running__backlash_now": "0.3 mm", "running__backlash_final": "0.2 mm"}
    pair = ToothPair(7, 36)
    found = planned(GapReading(gap=sharp(0.4), **TOLD), pair=pair, **changes)
    now = assemble(found)
    then = now.section.moved(dz_mm=0.1 * backlash_factor(now.blanks.pitch))
    assert then.points[:, 1].min() == pytest.approx(found.placement.toe_tip.value, abs=2e-3)
    assert boss_gap(now.boss, then).nominal_mm == pytest.approx(0.4, abs=2e-3)


@pytest.mark.parametrize(
    ("said", "wider_mm"),
    [
        (TOLD, 0.0),
        ({**TOLD, "caps_torqued": None}, 0.0508),
        ({**TOLD, "caps_torqued": False}, 0.0508),
        ({**TOLD, "final_preload": None}, 0.0762),
        ({**TOLD, "bearings": "set-up"}, 0.0508),
        ({}, hypot(0.0508, 0.0762, 0.0508)),
    ],
)
def test_what_is_not_said_widens_the_reading(said, wider_mm):
    """0.002, 0.003 and 0.002 in, from memory, root sum of squares."""
    back = Way(1.3, 0.0, exact(0.2), exact(0.2)).back(GapReading(gap=sharp(0.5), **said))
    assert back.spread == pytest.approx(wider_mm)


def test_a_backlash_not_said_widens_by_its_travel():
    way = Way(1.3, 0.0, None, exact(0.2))
    assert way.back(GapReading(gap=sharp(0.5), **TOLD)).spread == pytest.approx(1.3 * 0.1016)
    assert way.back(GapReading(gap=sharp(0.5), backlash=exact(0.3), **TOLD)).spread == 0.0


def test_what_is_not_said_is_marked():
    job = read(GapReading(gap=exact(0.5)), TouchReading(backlash_at_touch=exact(0.3), **TOLD))
    assert missing(job) == (
        "reading 1, gap, counts as wider without: caps torqued, final preload, final bearings, how it was taken",
    )
    assert any("counts as wider without" in note for note in check(job).notes)


def test_the_height_is_where_the_worked_gap_is_the_reading():
    """A straight gap of slope 0.8 that is 0 at height 20: 0.4 is read at 20.5; 0.1 back, so it will run at 20.4."""
    evidence, slope = from_boss(
        AgainstBoss("gap", give_or_take(0.4, 0.08), give_or_take(0.1, 0.05)), lambda z: 0.8 * (z - 20.0), 31.0
    )
    assert slope == pytest.approx(0.8)
    assert evidence.toe_tip.value == pytest.approx(20.4, abs=1e-3)
    assert evidence.toe_tip.spread == pytest.approx(hypot(0.08 / 0.8, 0.05))


def test_a_reading_that_no_place_of_the_ring_gives_is_refused():
    with pytest.raises(InputError, match="no place of the ring gives"):
        from_boss(AgainstBoss("gap", exact(5.0), exact(0.0)), lambda z: -1.0, 20.0)


# Errors of the boss: counted once


def test_a_boss_drawn_wrong_does_not_matter_to_a_gap_that_was_read():
    """The boss stands 0.4 mm prouder than drawn: without the reading the gap is 0.4 less, with it the same."""
    gap = GapReading(gap=give_or_take(0.6, 0.04), **TOLD)

    def ranged(readings, prouder_mm):
        job = read(*readings)
        size = give_or_take(prouder_mm, 0.5)
        return ranged_gap(
            plan(job.model_copy(update={"case": job.case.model_copy(update={"outside_size": size})}), PAIR, Hand.BELOW)
        )

    plain, read_ = ([ranged(readings, mm) for mm in (0.0, 0.4)] for readings in ((), (gap,)))
    assert plain[0][1].nominal_mm - plain[1][1].nominal_mm == pytest.approx(0.4, abs=2e-3)
    assert read_[0][1].nominal_mm == pytest.approx(read_[1][1].nominal_mm, abs=0.01)
    assert read_[0][2].low == pytest.approx(read_[1][2].low, abs=0.02)  # runouts take off a little by where the ring is


def test_a_sharp_gap_reading_leaves_no_more_range_than_its_own_and_what_moves_after_it():
    found = ranged_gap(planned(GapReading(gap=give_or_take(0.6, 0.04), **TOLD), case__outside_size="0 mm +/- 0.75 mm"))
    moved = {share.name for share in found[2].shares}
    assert moved == {WEIGHED, *SETTING}
    own = next(share for share in found[2].shares if share.name == WEIGHED)
    assert own.width / 2 == pytest.approx(0.04, rel=0.1)


def test_a_vague_gap_reading_drops_nothing():
    """A reading that says next to nothing leaves the boss's errors in: the root sum of squares of all that moves."""
    vague = GapReading(gap=Quantity(0.5, -1.2, 25.0), **TOLD)
    plain, found = ranged_gap(planned()), ranged_gap(planned(vague))
    together = hypot(*(max(share.down, share.up) for share in plain[2].shares if share.name not in SETTING))
    own = next(share for share in found[2].shares if share.name == WEIGHED)
    assert own.width / 2 == pytest.approx(together, rel=0.2)  # a gap is not quite straight over so much


def test_errors_of_boss_and_reading_are_weighed_as_a_linear_model_says():
    """Closed form: gap = height - boss; height known to 0.3, boss to 0.4, gap read as 0.1 more to 0.2.

    The gap's own variance is 0.3^2 + 0.4^2 = 0.5^2; by inverse variance it ends 0.25/(0.25 + 0.04) of the way to the
    reading, give or take 1/sqrt(1/0.25 + 1/0.04).
    """
    before = weigh([Evidence("rest", give_or_take(20.0, 0.3))])
    found = pinned(before, [Evidence("gap", give_or_take(20.1, 0.2))], 0.4)
    assert found.toe_tip.value == pytest.approx(20.0 + 0.1 * 0.25 / 0.29)
    assert found.toe_tip.spread == pytest.approx((1 / 0.25 + 1 / 0.04) ** -0.5)
    assert [e.name for e in found.evidence] == ["rest", "gap"]


def test_a_reading_that_does_not_agree_is_said():
    before = Placement(give_or_take(20.0, 0.1), (), None)
    assert "the gap read" in str(pinned(before, [Evidence("the gap read", give_or_take(22.0, 0.1))], 0.1).disagreement)


# What a check makes of it


def test_a_check_uses_the_reading():
    wide, clears, grinds = (
        check(read(*readings))
        for readings in ((), (GapReading(gap=sharp(0.8), **TOLD),), (GapReading(gap=sharp(0.3), **TOLD),))
    )
    assert (wide.verdict.words, clears.verdict.words) == ("MEASURE FIRST", "CLEARS THE BOSS")
    assert grinds.verdict.words == "GRIND"
    assert wide.band.high - wide.band.low > 5 * (clears.band.high - clears.band.low)


def test_a_gap_read_on_this_case_clears_it_whatever_the_drawing_is_of():
    job = read(GapReading(gap=sharp(0.8), **TOLD), case__measured="another case")
    assert check(job).verdict.words == "CLEARS THE BOSS"
    job = read(GapReading(gap=sharp(0.3), **TOLD), case__measured="another case")
    assert check(job).verdict.words == "MEASURE FIRST"  # no depth from another case's wall


def test_another_tooth_pair_drops_the_readings():
    assert for_pair(read(GapReading(gap=sharp(0.5))), ToothPair(8, 39)).readings == ()


# Slips


@pytest.mark.parametrize(
    ("reading", "told"),
    [
        (
            GapReading(gap=exact(20.0), **TOLD),
            "key readings 1.gap: a gap of 0.787 in (20.00 mm) is larger than a tooth",
        ),
        (
            BarToToe(bar_diameter=exact(38.0), gauge=exact(42.4), **TOLD),
            "was it read over the far side of the bar? From the near side to the toe belongs here",
        ),
        (
            BarToToe(bar_diameter=exact(38.0), gauge=exact(23.4), **TOLD),
            "was half the bar counted already? The gauge alone belongs here",
        ),
        (BarToToe(bar_diameter=exact(20.0), gauge=exact(60.0), **TOLD), "read to the heel, or to the back face?"),
    ],
)
def test_slips_are_named(reading, told):
    with pytest.raises(InputError) as caught:
        planned(reading)
    assert told in str(caught.value)
    assert "\n" not in str(caught.value)


def test_a_gap_read_as_well_as_can_be_is_ground_by_choice_where_it_straddles():
    """0.51 mm wanted and 0.55 read, give or take 0.04 and the backlash: no reading is left to settle it (DESIGN 6)."""
    settled = check(read(GapReading(gap=give_or_take(0.55, 0.0381), **TOLD)))
    assert settled.verdict.words == "GRIND BY CHOICE"
    vague = check(read(GapReading(gap=give_or_take(0.55, 0.0381))))
    assert vague.verdict.words == "MEASURE FIRST"
    assert "caps torqued" in str(vague.verdict.next_reading)


def test_readings_that_do_not_agree_are_read_again():
    job = read(GapReading(gap=sharp(0.9), **TOLD), WindOver(travel=sharp(0.2), **TOLD))
    answer = check(job)
    assert answer.verdict.words == "MEASURE FIRST"
    assert "was one of them read or typed wrong?" in answer.notes[-2] + answer.notes[-1]
    assert "once more" in str(answer.verdict.next_reading)
