"""Walls read on the bench: what they say of the boss's outside, in closed form where straight, and both hands."""

from math import cos, hypot, radians, sin, sqrt

import numpy as np
import pytest
from demo import demo_job

from geartrack.assembly import assemble, for_pair, many, plan
from geartrack.assembly.walls import FORM_MM, wall_spread
from geartrack.boss.from_job import boss_mesh
from geartrack.clearance import boss_gap
from geartrack.frame import Hand
from geartrack.gearset.teeth import ToothPair, one_pair
from geartrack.inputs import wall_spread_mm
from geartrack.job import Correlated, WallReading
from geartrack.quantity import give_or_take
from geartrack.relief.crossings import radii
from geartrack.spread import Sampling
from geartrack.study import check

LOOSE = {"case__outside_size": "0 mm +/- 0.5 mm", "case__outside_off_centre": "0 mm +/- 0.75 mm"}
NAMES = ("case.outside_size", "case.outside_off_centre_across", "case.outside_off_centre_toward")
PRIOR = np.diag([0.25, 0.375, 0.375]) ** 2  # variances [mm2] of NAMES as LOOSE has them
FEW = Sampling(512, 3)
TOOL_MM = 0.02


def wall(mm, clock=None, station=3.0):
    at = None if station is None else give_or_take(station, 0.0)
    return WallReading(
        wall=give_or_take(mm, TOOL_MM),
        clock=None if clock is None else give_or_take(radians(clock), radians(5)),
        station=at,
    )


def read(*walls, name="grind", **changes):
    return demo_job(name, **{**LOOSE, **changes}).model_copy(update={"readings": walls})


def planned(job):
    return plan(job, one_pair(job.gears.teeth), job.axle.hand)


def drawn_wall(clock, station=3.0):
    job = demo_job("grind")
    mesh = boss_mesh(job.boss, None, 0.0)
    return radii(mesh, np.array([station]), np.array([radians(clock)]))[0].item() - mesh.bore.diameter_mm / 2


def noise():
    """Variance [mm2] of what a wall on a round face may be off by: tool, bore, cast form; clock angles do nothing."""
    bore = demo_job("grind").boss.bore_diameter.reach / 2
    return hypot(TOOL_MM, bore, FORM_MM) ** 2 / 4


def closed_form(walls, covariance=PRIOR):
    """Means and covariance of NAMES after walls at round faces, by the normal equations (information form)."""
    rows = np.array([[1.0, sin(radians(t)), cos(radians(t))] for t, _ in walls])
    off = np.array([mm - drawn_wall(t) for t, mm in walls])
    after = np.linalg.inv(np.linalg.inv(covariance) + rows.T @ rows / noise())
    return after @ rows.T @ off / noise(), after


def found(job):
    chosen = planned(job)
    inputs = chosen.inputs
    assert [inputs[name].value for name in NAMES] == [0.0, 0.0, 0.0]  # about where the walls put the outside
    mean = np.array(chosen.outside)
    sd = np.array([inputs[name].spread / 2 for name in NAMES])
    by = np.eye(3)
    for pair in chosen.correlated:
        i, j = NAMES.index(pair.first), NAMES.index(pair.second)
        by[i, j] = by[j, i] = pair.by
    return mean, by * np.outer(sd, sd)


@pytest.mark.parametrize("hand", ["below", "above"])
@pytest.mark.parametrize("walls", [((30, 7.6),), ((30, 7.6), (-150, 8.4)), ((30, 7.6), (-60, 8.3), (80, 7.9))])
def test_walls_on_round_faces_are_taken_in_exactly(walls, hand):
    """Linear and normal: the closed form, whatever the hand, since a wall lies where it lies on the real part."""
    mean, covariance = found(read(*(wall(mm, t) for t, mm in walls), axle__hand=hand))
    expected, joint = closed_form(walls)
    assert mean == pytest.approx(expected, abs=2e-3)
    assert covariance == pytest.approx(joint, abs=1e-3)


def test_what_erred_together_before_still_does():
    """The job's own correlation is the prior of the closed form."""
    pair = Correlated(first=NAMES[0], second=NAMES[2], by=0.6)
    covariance = PRIOR.copy()
    covariance[0, 2] = covariance[2, 0] = 0.6 * sqrt(PRIOR[0, 0] * PRIOR[2, 2])
    mean, after = found(read(wall(7.6, 30)).model_copy(update={"correlated": (pair,)}))
    expected, joint = closed_form(((30, 7.6),), covariance)
    assert mean == pytest.approx(expected, abs=2e-3)
    assert after == pytest.approx(joint, abs=1e-3)


def test_a_flat_is_read_along_the_ray_and_moved_square_to_itself():
    """Closed form: on a flat at clock c a shift d moves the wall at clock t by d.n / cos(t - c), n square to it."""
    clock, flat = radians(-105.0), radians(-115.0)
    job = read(wall(drawn_wall(-105.0, 8.0) + 0.2, -105.0, 8.0))
    mean, _ = found(job)
    row = np.array([1.0, sin(flat), cos(flat)]) / cos(clock - flat)
    turned = drawn_wall(-110.0, 8.0) - drawn_wall(-105.0, 8.0), drawn_wall(-100.0, 8.0) - drawn_wall(-105.0, 8.0)
    variance = noise() + max(abs(each) for each in turned) ** 2 / 4
    expected = PRIOR @ row * 0.2 / (row @ PRIOR @ row + variance)
    assert mean == pytest.approx(expected, abs=3e-3)


def test_the_boss_as_assembled_has_the_walls_that_were_read():
    """The bore stays on the pinion's axis and the outside goes where the walls put it, within what they are off by."""
    walls = ((30, 7.55), (-60, 8.1), (80, 7.9))
    boss = assemble(planned(read(*(wall(mm, t) for t, mm in walls)))).boss
    for clock, mm in walls:
        at = radii(boss.mesh, np.array([3.0]), np.array([radians(clock)]))[0].item() - 19.0
        assert at == pytest.approx(mm, abs=2 * sqrt(noise()))
    assert (boss.seat.y_mm, boss.seat.z_mm) == pytest.approx((0.0, 0.0), abs=1e-12)


def mirrored(job):
    """The same axle as seen in a mirror: the other hand, every clock angle of boss and readings turned round."""
    parts = tuple(p.model_copy(update={"clock": -p.clock}) if hasattr(p, "clock") else p for p in job.boss.parts)
    walls = tuple(each.model_copy(update={"clock": each.clock.at(-each.clock.value)}) for each in job.readings)
    other = {
        "boss": job.boss.model_copy(update={"parts": parts}),
        "axle": job.axle.model_copy(update={"hand": Hand.ABOVE}),
        "readings": walls,
    }
    return job.model_copy(update=other)


def test_both_hands_give_one_answer_and_mirrored_marks():
    job = read(wall(7.6, 30), wall(8.4, -60))
    below, above = check(job), check(mirrored(job))
    assert above.gap.nominal_mm == pytest.approx(below.gap.nominal_mm, abs=2e-3)
    assert above.band.low == pytest.approx(below.band.low, abs=5e-3)
    assert above.place.clock == pytest.approx(-below.place.clock, abs=0.02)
    unturned = check(job.model_copy(update={"axle": job.axle.model_copy(update={"hand": Hand.ABOVE})}))
    assert abs(unturned.gap.nominal_mm - below.gap.nominal_mm) > 0.2


def test_a_wall_where_the_teeth_come_near_narrows_gap_and_wall():
    before, after = check(read(), FEW), check(read(wall(7.6, 30)), FEW)
    assert after.band.high - after.band.low < 0.35 * (before.band.high - before.band.low)
    spans = [a.cuts.wall_high_mm - a.cuts.wall_low_mm for a in (before, after)]
    assert spans[1] < 0.5 * spans[0]
    # The metal that is not there is gap: 0.6 mm of wall, most of it where and which way the teeth come nearest.
    assert 0.4 < after.gap.nominal_mm - before.gap.nominal_mm < 0.6


def test_a_wall_on_the_far_side_says_less():
    near, far = (check(read(wall(drawn_wall(t), t)), FEW).band for t in (30, -60))
    assert near.high - near.low < 0.6 * (far.high - far.low)


def test_walls_that_clash_are_named_and_not_averaged():
    answer = check(read(wall(7.5, 30), wall(9.0, 30), wall(8.2, -60)), FEW)
    assert answer.band.flagged == ("the wall at 1 o'clock (reading 1)", "the wall at 1 o'clock (reading 2)")
    assert answer.verdict.code == "measure"
    assert "do not go with the rest" in answer.verdict.reason
    assert answer.verdict.next_reading.startswith("the walls once more")
    plain = check(read(), FEW)
    assert (answer.band.low, answer.band.high) == (plain.band.low, plain.band.high)
    assert check(read(wall(7.5, 30), wall(9.0, 30))).band.flagged == answer.band.flagged  # without draws too


def test_a_wall_beyond_any_such_casting_is_named():
    assert check(read(wall(4.0, 30)), FEW).band.flagged == ("the wall at 1 o'clock (reading 1)",)


def test_the_least_wall_all_round_against_brute_force():
    """The least wall is bent in where the outside sits: importance sampling of 400,000 outsides stands beside it."""
    rng = np.random.default_rng(7)
    size, across, toward = rng.normal(size=(3, 400_000)) * np.sqrt(np.diag(PRIOR))[:, None]
    turns = np.linspace(-np.pi, np.pi, 73)[:-1]
    mesh = boss_mesh(demo_job("grind").boss, None, 0.0)
    cast = radii(mesh, np.linspace(1.5, 18.0, 9), turns)[0].min(axis=0) - 19.0
    least = (cast + across[:, None] * np.sin(turns) + toward[:, None] * np.cos(turns)).min(axis=1) + size
    weight = np.exp(-0.5 * (7.3 - least) ** 2 / noise())
    mean = np.average(size, weights=weight)
    sd = sqrt(np.average((size - mean) ** 2, weights=weight))
    chosen = planned(read(wall(7.3, station=None)))
    assert chosen.outside[0] == pytest.approx(mean, abs=0.05)
    assert sd < chosen.inputs[NAMES[0]].spread / 2 < 1.2 * sd  # a straight fit never knows more than there is to know


def test_the_least_wall_read_is_the_wall_now():
    short = check(read(wall(5.0, station=None), case__minimum_wall="5.2 mm", case__outside_off_centre="0 mm +/- 3 mm"))
    assert short.band.flagged == ()
    assert short.verdict.wall_short


def test_walls_go_with_the_case_to_another_ratio():
    job = read(wall(7.6, 30))
    assert for_pair(job, ToothPair(9, 41)).readings == job.readings


def test_draws_and_the_boss_as_assembled_have_one_outside():
    chosen = planned(read(wall(8.6, 30), wall(8.6, -150), wall(8.2, -60)))
    now = assemble(chosen)
    assert chosen.outside[0] > 0.2
    low, high = many(chosen, {}, 1).gaps()
    assert low[0] <= boss_gap(now.boss, now.section).upper_mm
    assert boss_gap(now.boss, now.section).nominal_mm == pytest.approx(float(low[0] + high[0]) / 2, abs=0.006)


def test_without_walls_the_wall_is_off_by_the_plain_sum():
    chosen = planned(read())
    assert wall_spread(chosen, 0.3) == wall_spread_mm(chosen.job)
