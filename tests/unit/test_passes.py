"""The cut in passes: closed forms at an edge where depth and gap differ fourfold, readings, STOP, both hands."""

from __future__ import annotations

import json
import re
from dataclasses import fields, replace
from itertools import pairwise
from math import cos, degrees, radians

import numpy as np
import pytest
from click.testing import CliRunner
from demo import demo_job
from relief_shapes import RADIUS, solid, tube

from geartrack.clearance import boss_gap
from geartrack.cli import main
from geartrack.datafiles import data_path
from geartrack.errors import InputError
from geartrack.frame import Array
from geartrack.quantity import give_or_take
from geartrack.relief import even_steps, full_steps, new_cut, relief
from geartrack.section import Section
from geartrack.study import PassPlan, as_document, check, pass_plan
from geartrack.study.answer import Answer
from geartrack.sweep import grown

IN = 25.4
FAR_MM = 150.0  # the end face from the ring's axis: far enough that the cone's curve hardly counts


@pytest.fixture(scope="module")
def grind() -> Answer:
    return check(demo_job("grind"))


@pytest.fixture(scope="module")
def plan(grind: Answer) -> PassPlan:
    return pass_plan(grind)


def leaning(lean: float, gap_mm: float) -> Section:
    """A ring whose face looks at the edge of the boss's end, its normal `lean` off the radius there."""
    toward = np.array([np.sin(lean), np.cos(lean)])
    along = np.array([toward[1], -toward[0]])
    edge = np.array([FAR_MM, RADIUS]) + gap_mm * toward
    corners = [edge - 40 * along, edge + 40 * along, edge + 40 * along + 40 * toward, edge - 40 * along + 40 * toward]
    return Section(np.array(corners), ("tooth tips", "heel", "back face", "toe"))


LEAN = radians(75.0)


@pytest.mark.parametrize("depth", [0.127, 0.254])
def test_a_pass_at_a_leaning_edge_is_a_quarter_of_its_depth_in_clearance(depth: float) -> None:
    """Closed form: the cone's face leans 75 degrees, so along the ray from the bore its growth by c cuts c / cos 75
    deg, 3.9 times c, at every place of the line it meets first; off that line, less. A pass taken as a length of gap
    would be 3.9 times as deep as asked. Steps aim 1 % short of their depth."""
    boss, ring = tube(offset=0.0, end_face=FAR_MM, around=2000), leaning(LEAN, 0.1)
    assert boss_gap(boss, ring).nominal_mm == pytest.approx(0.1, abs=1e-3)
    steps = full_steps(boss, ring, from_mm=0.1, to_mm=0.4, depth_mm=depth)
    rise = np.diff(np.concatenate([[0.1], steps]))
    assert rise[:-1] == pytest.approx(0.99 * depth * cos(LEAN), rel=0.02)
    assert steps[-1] == 0.4
    assert len(steps) == int(np.ceil(0.3 / (0.99 * depth * cos(LEAN))))


def test_even_steps_are_the_fewest_and_even() -> None:
    """The same closed form: 0.3 mm of clearance is 1.159 mm of depth; with 0.254 mm at most, five passes of 0.232."""
    boss, ring = tube(offset=0.0, end_face=FAR_MM, around=2000), leaning(LEAN, 0.1)
    steps = even_steps(boss, ring, from_mm=0.1, to_mm=0.4, most_mm=0.254)
    assert steps == pytest.approx([0.16, 0.22, 0.28, 0.34, 0.4], abs=0.001)
    deepest = [new_cut(boss, ring, from_mm=a, to_mm=b).depth_mm for a, b in pairwise([0.1, *steps])]
    assert deepest == pytest.approx([0.06 / cos(LEAN)] * 5, rel=0.01)


def test_nothing_to_take_is_no_pass() -> None:
    boss, ring = tube(offset=0.0, end_face=FAR_MM), leaning(LEAN, 0.1)
    assert len(even_steps(boss, ring, from_mm=0.1, to_mm=0.05, most_mm=0.254)) == 0
    assert len(full_steps(boss, ring, from_mm=0.4, to_mm=0.4, depth_mm=0.1)) == 0


@pytest.mark.parametrize(("job", "depth"), [("grind", 0.127), ("grind-by-readings", None), ("hits", None)])
def test_no_pass_is_deeper_than_asked_and_none_but_the_last_is_idle(job: str, depth: float | None) -> None:
    """The deepest new cut is measured anew by a search over the surface, between the rays that the plan used."""
    answer = check(demo_job(job))
    made = pass_plan(answer, depth_each_mm=depth)
    most = depth or 0.010 * IN
    for part in (False, True):
        cuts = [each for each in made.left if each.if_short is part]
        new = [each.new_depth_mm for each in cuts]
        assert max(new) <= 1.01 * most
        assert min(new[:-1], default=most) >= 0.94 * (most if depth else max(new))
    if depth is None:
        new = [each.new_depth_mm for each in made.left if not each.if_short]
        assert max(new) == pytest.approx(min(new), rel=0.03)
        assert len(new) == 1 or len(new) - 1 < sum(new) / (0.99 * most) + 0.1
        assert max(new) >= 0.005 * IN


def test_passes_are_not_target_minus_gap(grind: Answer, plan: PassPlan) -> None:
    """Demo: the gap wanted is 0.584 mm off; the deepest new cuts add up to half as much again, the whole cut is 0.659
    deep. Neither is the clearance that is still to go, so no pass could have been cut from that."""
    short = grind.target_mm - grind.gap.nominal_mm
    main = [each for each in plan.left if not each.if_short]
    assert sum(each.new_depth_mm for each in main) > 1.4 * short
    assert main[-1].depth_mm == pytest.approx(grind.cuts.nominal.depth_radial_max_mm, abs=1e-9)
    assert plan.left_depth_mm == pytest.approx(grind.cuts.nominal.depth_radial_max_mm, abs=2e-3)
    for each in main:
        assert each.new_depth_mm > 1.3 * (grind.target_mm - grind.gap.nominal_mm) / len(main)


def test_the_last_pass_is_the_cut_for_the_gap_wanted_and_masses_add_up(grind: Answer, plan: PassPlan) -> None:
    cuts = grind.cuts
    main, more = ([each for each in plan.left if each.if_short is short] for short in (False, True))
    assert main[-1].clearance_mm == cuts.nominal.clearance_mm
    assert more[-1].clearance_mm == pytest.approx(cuts.hold.clearance_mm, abs=1e-9)
    assert more[-1].clearance_mm <= plan.stop_mm == cuts.stop.clearance_mm
    error = sum(each.volume_error_mm3 for each in main)
    assert abs(sum(each.volume_mm3 for each in main) - cuts.nominal.volume_mm3) <= error
    assert error < 0.02 * cuts.nominal.volume_mm3
    assert sum(each.mass_g for each in main) == pytest.approx(grind.work.mass_g[1], rel=0.01)
    assert plan.left_mass_g == pytest.approx(grind.work.mass_g[1], rel=0.01)
    rows = plan.left
    assert all(b.area_mm2 > a.area_mm2 and b.depth_mm > a.depth_mm for a, b in pairwise(rows))
    assert all(b.wall_left_mm <= a.wall_left_mm for a, b in pairwise(rows))


def test_each_pass_by_manifold3d(grind: Answer, plan: PassPlan) -> None:
    """What a boolean kernel takes off the mesh between the sweeps of two clearances. Its ring has 2880 facets a turn,
    off by up to r (1 - cos(pi / 2880)), 6e-5 mm, which it is given as slack on the pass's patch; the arcs of the growth
    stray by less."""
    from manifold3d import CrossSection

    body, before = solid(grind.boss), 0.0
    for each in plan.left:
        shape = grown(grind.section, each.clearance_mm, arc_segments=64)
        sweep = CrossSection([shape.points]).revolve(1440, 180.0).rotate((0.0, 0.0, -90.0))
        volume = float((body ^ sweep).volume())
        slack = each.volume_error_mm3 + 2 * 6e-5 * each.area_mm2 + 1e-6
        assert abs((volume - before) - each.volume_mm3) <= slack
        before = volume


def test_the_gap_after_a_pass_is_what_it_should_read(grind: Answer, plan: PassPlan) -> None:
    """The relieved mesh (by manifold3d) is handed to the certified gap: it stands off by what the plan says."""
    from manifold3d import CrossSection

    from geartrack.boss.mesh import BossMesh, PlacedBoss

    boss = grind.boss
    for each in (plan.left[1], plan.left[3]):
        shape = grown(grind.section, each.clearance_mm, arc_segments=64)
        sweep = CrossSection([shape.points]).revolve(1440, 180.0).rotate((0.0, 0.0, -90.0))
        rest = (solid(boss) - sweep).to_mesh64()
        corners: Array = boss.seat.to_boss(np.asarray(rest.vert_properties)[:, :3])
        mesh = BossMesh(corners, np.asarray(rest.tri_verts, np.int32), boss.mesh.bore)
        cut_gap = boss_gap(PlacedBoss(mesh, boss.seat), grind.section).nominal_mm
        grown_by = grind.cuts.nominal.clearance_mm - grind.target_mm
        assert cut_gap - grown_by == pytest.approx(each.reads_mm, abs=2e-3)


def test_what_it_should_read_carries_the_range_of_the_gap(grind: Answer, plan: PassPlan) -> None:
    """The wider, on each side, of the gap's as cast and of the gap's once the cut is made."""
    cast, after = grind.band, grind.band.after
    down = max(grind.gap.nominal_mm - cast.low, grind.target_mm - after.low)
    up = max(cast.high - grind.gap.nominal_mm, after.high - grind.target_mm)
    for each in plan.left:
        assert each.reads_mm - each.reads_low_mm == pytest.approx(down)
        assert each.reads_high_mm - each.reads_mm == pytest.approx(up)
    assert plan.left[-1].reads_low_mm == pytest.approx(grind.target_mm, abs=1e-6)


def test_a_boss_that_stands_out_of_its_mesh_is_cut_for_that_too(grind: Answer) -> None:
    """Where the outside may stand 0.05 mm further out than the mesh, the gap is less by that and clearances are more:
    after the cut for the gap wanted it is the gap wanted that is to be read, and 0.1 mm read is 0.05 mm nearer than
    0.15 mm."""
    out, cuts = 0.05, grind.cuts
    gap = replace(grind.gap, nominal_mm=grind.gap.nominal_mm - out)
    nominal = relief(grind.boss, grind.section, cuts.nominal.clearance_mm + out)
    answer = replace(grind, gap=gap, cuts=replace(cuts, nominal=nominal))
    last = [each for each in pass_plan(answer).left if not each.if_short][-1]
    assert last.clearance_mm == nominal.clearance_mm
    assert last.reads_mm == pytest.approx(grind.target_mm, abs=1e-9)
    told = pass_plan(answer, readings=[give_or_take(0.1, 0.03)])
    assert told.nearer_mm == pytest.approx(told.cut_mm - out - 0.1, abs=1e-9)


def test_a_ring_that_stands_nearer_gets_the_cut_that_truly_clears_it(grind: Answer, plan: PassPlan) -> None:
    """The ring is really 0.15 mm nearer, all over (its section grown). The reading after the second pass is that of the
    real ring against the boss as cut; the plan's last cut is then the very one that gives the real ring the gap wanted,
    by the closed form of growth: grown by 0.15 and then by the target is grown by their sum."""
    nearer = 0.15
    read = plan.left[1].reads_mm - nearer
    told = pass_plan(grind, readings=[give_or_take(read, 0.02)], after=2)
    assert told.nearer_mm == pytest.approx(nearer, abs=1e-9)
    assert told.state == "cut"
    assert not told.flagged
    last = [each for each in told.left if not each.if_short][-1]
    real = grown(grind.section, nearer, arc_segments=128)
    whole = relief(grind.boss, real, grind.cuts.nominal.clearance_mm)
    assert last.depth_mm == pytest.approx(whole.depth_radial_max_mm, abs=2e-3)
    taken = sum(each.volume_mm3 for each in (*told.made, *told.left) if not each.if_short)
    assert taken == pytest.approx(whole.volume_mm3, rel=0.01)
    assert last.reads_mm == pytest.approx(grind.target_mm, abs=1e-9)
    assert told.left_depth_mm > 1.3 * (grind.target_mm - read)
    assert told.hold_mm - told.to_mm == pytest.approx(0.02, abs=1e-9)


def test_what_is_left_is_the_new_cut_less_what_is_gone(grind: Answer) -> None:
    told = pass_plan(grind, readings=[give_or_take(0.1, 0.03)], after=2)
    volumes = relief(grind.boss, grind.section, told.to_mm), relief(grind.boss, grind.section, told.cut_mm)
    assert told.left_volume_mm3 == pytest.approx(volumes[0].volume_mm3 - volumes[1].volume_mm3, rel=1e-9)
    assert told.left_mass_g == pytest.approx(told.left_volume_mm3 * 7.1e-3)  # nodular iron, g/mm3 (from memory)
    assert told.left_depth_mm < volumes[0].depth_radial_max_mm
    assert told.left_depth_mm > volumes[0].depth_radial_max_mm - volumes[1].depth_radial_max_mm


def test_a_reading_before_any_pass_counts_from_the_gap_now(grind: Answer) -> None:
    told = pass_plan(grind, readings=[give_or_take(0.02, 0.03)], after=0)
    assert told.made == ()
    assert told.nearer_mm == pytest.approx(grind.gap.nominal_mm - 0.02)
    assert told.to_mm == pytest.approx(grind.cuts.nominal.clearance_mm + told.nearer_mm)


def test_readings_in_a_row_are_replayed_pass_by_pass(grind: Answer) -> None:
    """The second pass is the first of what was left after the first reading."""
    first = pass_plan(grind, readings=[give_or_take(0.06, 0.03)])
    second = pass_plan(grind, readings=[give_or_take(0.06, 0.03), give_or_take(0.2, 0.03)])
    assert second.made[1].clearance_mm == first.left[0].clearance_mm
    assert [each.read.value for each in second.made if each.read] == [0.06, 0.2]
    assert second.nearer_mm == pytest.approx(second.cut_mm - 0.2, abs=1e-9)


def test_a_gap_that_reaches_the_wanted_one_ends_it(grind: Answer) -> None:
    """The bar is the gap wanted at set-up, not nought: 0.001 in short of it there is more to take."""
    enough = pass_plan(grind, readings=[give_or_take(0.508, 0.03)], after=3)
    assert (enough.state, enough.left, enough.left_mass_g) == ("done", (), 0.0)
    short = pass_plan(grind, readings=[give_or_take(0.482, 0.03)], after=3)
    assert short.state == "cut"
    assert short.left
    assert short.left_depth_mm > 0


def test_a_ring_that_touches_says_only_that_much(grind: Answer, plan: PassPlan) -> None:
    """0 where touching was to be expected tells nothing; where a gap was, that the ring stands nearer by that at least,
    and the low end stays as far off as it was."""
    hits = check(demo_job("hits"))
    told = pass_plan(hits, readings=[give_or_take(0.0, 0.0)], after=3)
    assert (told.nearer_mm, told.flagged, told.state) == (0.0, (), "cut")
    assert told.hold_mm == pass_plan(hits).hold_mm
    touched = pass_plan(grind, readings=[give_or_take(0.0, 0.0)], after=2)
    assert touched.nearer_mm == pytest.approx(plan.left[1].reads_mm)
    assert touched.hold_mm == pytest.approx(plan.hold_mm, abs=1e-6)


def test_never_past_stop(grind: Answer, plan: PassPlan) -> None:
    """A ring that touches after all passes: STOP comes before the gap wanted, and nothing is cut beyond it."""
    told = pass_plan(grind, readings=[give_or_take(0.0, 0.0)], after=len(plan.left))
    assert told.stop_first
    assert told.state == "cut"
    assert told.left[-1].clearance_mm == told.to_mm == told.stop_mm == grind.cuts.stop.clearance_mm
    assert told.left[-1].depth_mm <= told.stop_depth_mm + 1e-9
    assert told.gap_at_stop_mm < grind.target_mm
    there = pass_plan(grind, readings=[give_or_take(0.0, 0.0), give_or_take(0.1, 0.03)], after=len(plan.left))
    assert (there.state, there.left) == ("stop", ())


def test_a_reading_beyond_chance_is_flagged(grind: Answer, plan: PassPlan) -> None:
    row, give = plan.left[-1], 0.03
    assert row.reads_high_mm > grind.target_mm
    assert row.reads_low_mm > 3 * give
    for read in (row.reads_high_mm + 2 * give, row.reads_low_mm - 2 * give):
        assert len(pass_plan(grind, readings=[give_or_take(read, give)], after=row.number).flagged) == 1
    for read in (row.reads_high_mm, row.reads_low_mm):
        assert pass_plan(grind, readings=[give_or_take(read, give)], after=row.number).flagged == ()


def test_a_pass_that_gave_nothing_is_flagged(grind: Answer) -> None:
    """Read 0.1 mm, one pass, and 0.1 mm again: a pass of about 0.17 mm clearance should have shown."""
    stuck = pass_plan(grind, readings=[give_or_take(0.1, 0.02), give_or_take(0.1, 0.02)], after=2)
    assert len(stuck.flagged) == 1
    assert "reading before" in stuck.flagged[0]


def test_both_hands_have_one_plan_and_mirrored_marks() -> None:
    """The demo's boss is unsymmetrical: mirrored in an axle of the other hand it is the same job."""
    one = pass_plan(check(demo_job("grind")), readings=[give_or_take(0.1, 0.03)])
    mirrored = demo_job("grind").model_copy(update={"axle": demo_job("grind", axle__hand="above").axle})
    parts = tuple(p.model_copy(update={"clock": -p.clock}) if hasattr(p, "clock") else p for p in mirrored.boss.parts)
    job = mirrored.model_copy(update={"boss": mirrored.boss.model_copy(update={"parts": parts})})
    twin = pass_plan(check(job), readings=[give_or_take(0.1, 0.03)])
    assert len(one.left) == len(twin.left)
    for a, b in zip((*one.made, *one.left), (*twin.made, *twin.left), strict=True):
        assert b.clearance_mm == pytest.approx(a.clearance_mm, abs=3e-3)
        assert b.area_mm2 == pytest.approx(a.area_mm2, rel=0.03)
        assert degrees(b.clock) == pytest.approx(-degrees(a.clock), abs=1.0)
        assert abs(degrees(a.clock)) > 15


def test_an_unknown_hand_names_no_side() -> None:
    job = demo_job("grind")
    answer = check(job.model_copy(update={"axle": job.axle.model_copy(update={"hand": None})}))
    if answer.verdict.grinds:
        row = as_document(pass_plan(answer))["left"][0]
        assert row["clock_deg"] is None
        assert row["either_side_clock_deg"] > 0


@pytest.mark.parametrize("job", ["clears", "measure", "dont-grind", "dont-use", "aluminium"])
def test_nothing_to_grind_by_is_no_plan(job: str) -> None:
    answer = check(demo_job(job))
    with pytest.raises(InputError, match=answer.verdict.words.replace("(", r"\(")):
        pass_plan(answer)


def test_more_passes_than_planned_are_refused(grind: Answer, plan: PassPlan) -> None:
    planned = len(plan.left)
    with pytest.raises(InputError, match=f"{planned + 1} passes made, but {planned} were planned"):
        pass_plan(grind, after=planned + 1)
    with pytest.raises(InputError, match="more than 60 passes"):
        pass_plan(grind, depth_each_mm=0.005)


def test_no_number_of_a_plan_is_missing(plan: PassPlan) -> None:
    document = as_document(plan)
    text = json.dumps(document, allow_nan=False)
    assert document["kind"] == "passes"
    assert json.loads(text)["left"][0]["clearance_mm"] == plan.left[0].clearance_mm
    named = {f.name for f in fields(plan.left[0])} - {"clock", "read"}
    assert named <= document["left"][0].keys()


def run(*arguments: object):  # type: ignore[no-untyped-def]
    result = CliRunner().invoke(main, [str(each) for each in ("passes", *arguments)])
    assert result.exception is None or isinstance(result.exception, SystemExit), result.exception
    return result


def test_the_command() -> None:
    job = data_path("jobs/grind.toml")
    ran = run(job, "--now-at", "0.003 in", "--now-at", "0.010 in +/- 0.001 in")
    assert ran.exit_code == 0, ran.output
    assert ran.stdout.count(" made ") == 2
    assert re.search(r"STOP at 0\.0[34]\d in", ran.stdout)
    assert "believe the dye" in ran.stdout
    found = json.loads(run(job, "--depth-each", "0.005 in", "--json").stdout)
    assert found["why"].startswith("passes of 0.005 in")
    assert found["left"][0]["new_depth_mm"] == pytest.approx(0.127, rel=0.03)


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (("--now-at", "0.012"), "--now-at: '0.012' has no unit"),
        (("--now-at", "-1 mm"), "--now-at: '-1 mm' is below zero"),
        (("--now-at", "nan mm"), "--now-at:"),
        (("--now-at", "0.3 in"), "0.300 in (7.62 mm) is far over"),
        (("--depth-each", "5 in"), "--depth-each: 5 in is out of range"),
        (("--depth-each", "0 in"), "--depth-each: 0 in is out of range"),
        (("--after", "99"), "99 passes made"),
    ],
)
def test_bad_input_is_one_line(arguments: tuple[str, ...], says: str) -> None:
    ran = run(data_path("jobs/grind.toml"), *arguments)
    assert ran.exit_code == 2
    assert says in ran.stderr
    assert len(ran.stderr.splitlines()) == 1
    assert ran.stdout == ""


def test_a_finished_plan_has_no_depth_to_show(grind: Answer) -> None:
    from geartrack import words

    done = pass_plan(grind, readings=[give_or_take(0.6, 0.03)], after=2)
    assert words.to_take(done, "in") == ["The gap wanted, 0.020 in (0.51 mm), is there: take no more off."]
    said = " ".join(words.to_take(replace(done, state="stop", stop_first=True, gap_at_stop_mm=0.4), "in"))
    assert "take no more off" in said
    assert "0.015 in" in said
