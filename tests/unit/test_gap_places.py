"""A gap read at one clock angle: predicted at that place of the real part in either hand, draw by draw."""

from math import radians
from pathlib import Path

import numpy as np
import pytest
from demo import demo_job

from geartrack.allowances import backlash_factor
from geartrack.assembly import assemble, at_place, many, plan
from geartrack.assembly.places import gap_at, surface_at
from geartrack.clearance import boss_gap, gap
from geartrack.errors import InputError
from geartrack.frame import Hand, from_polar, meridian, polar
from geartrack.gearset.teeth import one_pair
from geartrack.job import GapReading, job_from_dict
from geartrack.job.fields import ClockAngle
from geartrack.quantity import give_or_take
from geartrack.readings import OnBoss
from geartrack.relief.crossings import radii
from geartrack.spread import Sampling, posterior
from geartrack.spread.draws import draw
from geartrack.study import check
from geartrack.sweep import signed_distance

TOLD = {"caps_torqued": True, "final_preload": True, "bearings": "final", "backlash": give_or_take(0.2, 0.0)}
SAME = {"running__backlash_now": "0.2 mm", "running__backlash_final": "0.2 mm"}
FEW = Sampling(512, 3)


def read(*gaps, name="measure", **changes):
    return demo_job(name, **{**SAME, **changes}).model_copy(update={"readings": gaps})


def at(mm, clock, station=None, spread=0.03, by=0.2):
    where = None if station is None else give_or_take(station, 0.02)
    return GapReading(
        gap=give_or_take(mm, spread), clock=give_or_take(radians(clock), radians(by)), station=where, **TOLD
    )


def planned(job, hand=None):
    return plan(job, one_pair(job.gears.teeth), hand or job.axle.hand)


@pytest.mark.parametrize("hand", Hand)
@pytest.mark.parametrize(("station", "clock"), [(2.0, 30.0), (2.0, -40.0), (8.0, -115.0), (12.0, 90.0)])
def test_a_place_is_where_it_is_on_the_real_part(station, clock, hand):
    """By hand: station, radius and clock as axle coordinates, DESIGN 1, then the polygon distance of (r, z)."""
    chosen = planned(demo_job("grind"), hand)
    now, t = assemble(chosen), radians(clock)
    q = radii(now.boss.mesh, np.array([station]), np.array([t]))[1].item()
    side = 1.0 if hand is Hand.BELOW else -1.0
    point = np.array(
        [
            chosen.job.boss.end_face.value - station,
            chosen.job.axle.offset.value + side * q * np.sin(t),
            q * np.cos(t),
        ]
    )
    expected = signed_distance(now.section, meridian(point[None])).item()
    found = gap(surface_at(now.boss, OnBoss(t, station)), now.section)
    assert found.nominal_mm == pytest.approx(expected, abs=1e-3)
    assert found.upper_mm - found.lower_mm < 2e-3


@pytest.mark.parametrize("hand", Hand)
def test_along_a_ray_it_is_the_least_of_its_places(hand):
    now = assemble(planned(demo_job("grind"), hand))
    t = radians(20.0)
    ray = gap(surface_at(now.boss, OnBoss(t)), now.section).nominal_mm
    stations = np.linspace(0.0, 26.9, 120)
    places = [gap(surface_at(now.boss, OnBoss(t, s)), now.section).nominal_mm for s in stations]
    assert ray <= min(places) + 1e-3
    assert ray == pytest.approx(min(places), abs=0.02)  # places 0.2 mm apart
    everywhere = boss_gap(now.boss, now.section)
    nearest = float(polar(now.boss.seat.to_boss(everywhere.point))[2])
    rays = [
        gap(surface_at(now.boss, OnBoss(nearest + turn)), now.section).nominal_mm for turn in np.linspace(-0.4, 0.4, 81)
    ]
    assert min(rays) == pytest.approx(everywhere.nominal_mm, abs=2e-3)


@pytest.mark.parametrize("hand", Hand)
def test_draw_by_draw_it_is_the_gap_of_each_assembly_there(hand):
    chosen = planned(demo_job("grind", boss__edge_break="0 mm"), hand)
    values = draw(chosen.inputs, count=256)
    growth = {name: values.pop(name) for name in ("case.outside_size",)}
    place = OnBoss(radians(25.0), 3.0)
    low, high = at_place(many(chosen, values, 256), place).gaps()
    for i in range(0, 256, 41):
        one = assemble(chosen, {name: float(each[i]) for name, each in values.items()})
        exact = gap(surface_at(one.boss, place), one.section).nominal_mm
        assert (low[i] + high[i]) / 2 == pytest.approx(exact, abs=0.01)  # facets of 0.004 mm are counted
    grown, _ = at_place(many(chosen, values | growth, 256), place).gaps()
    fall = (low - grown) / growth["case.outside_size"]
    now = assemble(chosen)
    out = now.boss.seat.to_axle(from_polar(np.full(2, 3.0), np.array([27.2, 27.201]), np.array(place.clock)))
    expected = -np.diff(signed_distance(now.section, meridian(out)))[0] / 1e-3
    assert fall == pytest.approx(expected, abs=0.02)


@pytest.mark.parametrize("hand", Hand)
@pytest.mark.parametrize(("station", "clock"), [(None, 32.0), (3.0, 38.0)])
def test_a_sharp_gap_at_a_place_finds_the_ring_where_it_was_put(station, clock, hand):
    """The ring is put 0.5 mm back; the gap at the place, as read then, brings its height back; draws show it."""
    clock = clock if hand is Hand.BELOW else -clock
    plain = planned(demo_job("measure", **SAME), hand)
    now = assemble(plain)
    place = OnBoss(radians(clock), station)
    height = now.blanks.ring.toe_tip_height_mm + 0.5
    mm = gap(surface_at(now.boss, place), now.section.moved(dz_mm=0.5)).nominal_mm
    assert gap_at(plain, place, height) == pytest.approx(mm, abs=0.01)
    found = planned(read(at(mm, clock, station, spread=0.02, by=0.05)), hand)
    evidence = next(each for each in found.placement.evidence if each.name.startswith("the gap read at"))
    assert evidence.toe_tip.value == pytest.approx(height, abs=0.02)
    drawn = posterior(found, FEW)
    worked = at_place(many(found, drawn.values, 512), place)
    shown = worked.rough_gaps(drawn.values["gears.toe_tip"])
    assert np.average(shown, weights=drawn.weights) == pytest.approx(mm, abs=0.03)
    assert np.sqrt(np.average((shown - mm) ** 2, weights=drawn.weights)) < 0.05


def test_the_same_clock_in_the_other_hand_is_another_place():
    rings = [gap_at(planned(demo_job("measure"), hand), OnBoss(radians(40.0)), 23.0) for hand in Hand]
    turned = gap_at(planned(demo_job("measure"), Hand.ABOVE), OnBoss(radians(-40.0)), 23.0)
    assert rings[0] == pytest.approx(turned, abs=0.02)  # the boss is round there, rib and flat lie elsewhere
    assert abs(rings[0] - rings[1]) > 0.5


def test_a_gap_near_the_nearest_place_narrows_and_one_far_off_narrows_less():
    base = check(read(), FEW).band
    chosen = planned(read())
    tips = assemble(chosen).blanks.ring.toe_tip_height_mm
    worked = [(gap_at(chosen, OnBoss(radians(clock)), tips), clock) for clock in (32, 60)]
    near, far = (check(read(at(mm, clock)), FEW).band for mm, clock in worked)
    assert near.flagged == far.flagged == ()
    assert near.high - near.low < 0.45 * (base.high - base.low)
    assert near.high - near.low < far.high - far.low < base.high - base.low


def test_the_boss_is_not_taken_for_known_where_it_was_not_read():
    """Only the tightest gap over a full turn holds what the boss is off by where the teeth come nearest."""
    assert planned(read(at(0.75, 30))).absorbed == frozenset()
    both = planned(read(at(0.75, 30), GapReading(gap=give_or_take(0.7, 0.04), **TOLD)))
    assert both.absorbed
    assert both.ring_placed


def test_gaps_that_clash_at_one_place_are_named():
    answer = check(read(at(0.4, 30, spread=0.02), at(1.6, 30, spread=0.02)), FEW)
    assert answer.verdict.code == "measure"
    said = answer.verdict.reason + " ".join(answer.band.flagged)
    assert "the gap read at 1 o'clock" in said


def test_the_backlash_then_counts_as_for_any_gap():
    then = GapReading(
        gap=give_or_take(0.5, 1e-3), clock=give_or_take(0.5, 0.01), **(TOLD | {"backlash": give_or_take(0.3, 0.0)})
    )
    back = [planned(read(each)).against[0].back.value for each in (at(0.5, 30), then)]
    factor = float(backlash_factor(assemble(planned(read())).blanks.pitch))
    assert back[1] - back[0] == pytest.approx(0.1 * factor, abs=1e-3)


def test_a_clock_angle_by_eye_makes_it_wider():
    eye, degrees = (planned(read(at(0.8, 30, by=by))).against[0].gap.reach for by in (5.0, 0.5))
    assert degrees < 0.2
    assert eye > 5 * degrees  # a degree is worth a quarter of a millimetre here


def test_an_oclock_is_by_eye_and_degrees_are_not():
    clocks = [ClockAngle("angle", -180, 180).read(text) for text in ("1 o'clock", "30 deg", "30 deg +/- 0.5 deg")]
    assert [round(float(np.degrees(each.reach)), 6) for each in clocks] == [5.0, 1.0, 0.5]
    assert {round(each.value, 9) for each in clocks} == {round(radians(30), 9)}


@pytest.mark.parametrize("value", [1.2345678901234567, -0.1, 2.9999999999999996, 0.1 + 0.2])
def test_a_clock_angle_written_reads_back_to_the_last_bit(value):
    kind = ClockAngle("angle", -180, 180)
    for angle in (give_or_take(value, 0.0), give_or_take(value, 0.0123)):
        assert kind.read(kind.write(angle)) == angle


def refused(**reading):
    document = {
        "name": "x",
        "axle": {"ring_diameter": "240 mm", "offset": "54 mm"},
        "gears": {"teeth": "7/35"},
        "boss": {
            "end_face": "50 mm",
            "bore_diameter": "38 mm",
            "bore_depth": "20 mm",
            "parts": [{"kind": "cylinder", "diameter": "54 mm", "from": "0 mm", "to": "22 mm"}],
        },
        "readings": [{"kind": "gap", "gap": "0.5 mm", **reading}],
    }
    with pytest.raises(InputError) as fault:
        job_from_dict(document, Path(), "x")
    return str(fault.value)


def test_without_a_hand_it_is_refused_in_a_line():
    said = refused(clock="1 o'clock")
    assert "clock: a gap at a clock angle says nothing while the hand of the axle is not given" in said
    assert len(said.splitlines()) == 1
    assert "is not" in refused(clock="soon") or "o'clock" in refused(clock="soon")
