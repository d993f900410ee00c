"""A job whose boss is a scan, through check and the command: the demo's casting, whose pose and parts are known."""

import json
import math
import shutil

import larch_scan
import numpy as np
import pytest
from click.testing import CliRunner
from demo import demo_job

from geartrack.assembly import assemble, closer_by, plan
from geartrack.boss.from_job import as_read
from geartrack.boss.scan.files import read_scan
from geartrack.boss.scan.from_scan import Scanned
from geartrack.clearance import boss_gap
from geartrack.cli import main
from geartrack.datafiles import data_path
from geartrack.errors import InputError
from geartrack.frame import Hand
from geartrack.gearset.teeth import one_pair
from geartrack.job import read_job, with_changes
from geartrack.spread import Sampling
from geartrack.study import check

LOWER_RING = {
    "gears.measured.toe_height": "1.533 in",
    "gears.measured.heel_height": "1.155 in",
}  # the scan's job
PARTS = ("case.outside_off_centre_across", "case.outside_off_centre_toward", "boss.readings", "boss.end_face")


@pytest.fixture(scope="module")
def job():
    return demo_job("grind-by-scan")


@pytest.fixture(scope="module")
def scanned(job):
    found = as_read(job)
    assert isinstance(found, Scanned)
    return found


def gap_of(job):
    made = plan(job, one_pair(job.gears.teeth), Hand.BELOW)
    now = assemble(made)
    return made, boss_gap(now.boss, now.section).nominal_mm - closer_by(made)


def test_the_demo_scan_is_invented_and_says_so():
    with larch_scan.FILE.open("rb") as file:
        assert file.read(80).startswith(b"Invented: a scan")
    assert larch_scan.FILE.stat().st_size < 1_500_000


def test_the_demo_scan_stands_where_it_was_put(scanned):
    pose = scanned.pose
    turn = pose.rotation @ larch_scan.rotation()
    assert math.acos(min(1.0, (np.trace(turn) - 1) / 2)) < 2e-3
    off = larch_scan.rotation().T @ (pose.origin - larch_scan.SHIFT)
    assert (np.abs(off) <= [pose.along_mm, pose.across_mm, pose.toward_mm]).all()
    assert scanned.registration.hand is Hand.BELOW
    assert "metal where the ring would run" in scanned.registration.told_by


def test_a_scan_s_gap_is_its_parts_gap_within_what_the_scan_is_off_by(job):
    made, by_scan = gap_of(job)
    _, by_parts = gap_of(with_changes(demo_job("grind"), LOWER_RING))
    assert abs(by_scan - by_parts) <= sum(made.inputs[name].reach for name in PARTS)
    assert sum(made.inputs[name].reach for name in PARTS) < 0.15
    assert made.inputs["boss.edge_break"].spread == 0  # a scan shows its edge
    assert made.inputs["case.outside_size"].source == "a scanner's own error of size, from memory"


def test_a_stray_makes_no_pit_in_coarse_triangles(scanned):
    """The outside of the demo's boss is a cylinder of 27.2 mm up to its cone, pads and ribs beyond: nothing is less."""
    shown = scanned.outside
    before = shown.station_mm < 17
    assert shown.radius_mm[before].min() > 27.2 - 0.15
    near = before[:, None] & shown.seen & (np.abs(shown.clock - math.radians(33)) < math.radians(40))
    assert np.abs(shown.radius_mm[near] - 27.2).max() < 0.1


def test_the_scanned_job_grinds_by_a_clear_margin(job):
    summed, drawn = check(job), check(job, Sampling(1024))
    assert (summed.verdict.code.value, drawn.verdict.code.value) == ("grind", "grind")
    assert summed.band.high < summed.target_mm - 0.05
    assert 0.1 < drawn.band.high < drawn.target_mm - 0.2
    answer = drawn
    assert answer.wall_before.before_mm == pytest.approx(27.2 - 19.0, abs=0.15)


def test_the_other_hand_is_refused():
    with pytest.raises(InputError, match=r"larch-scan.stl: it shows a pinion below .* but the job says above"):
        as_read(demo_job("grind-by-scan", axle__hand="above"))


def test_an_end_face_that_the_scan_contradicts_is_to_be_read_again():
    answer = check(demo_job("grind-by-scan", boss__end_face="51.5 mm"))
    assert answer.verdict.code.value == "measure"
    assert any("boss.end_face is 2.028 in (51.50 mm) as typed, but" in note for note in answer.notes)
    assert "end face to the ring's centre line once more" in answer.verdict.next_reading


def changed_scan(tmp_path, keep):
    """The demo's job in a folder of its own, its scan with only the triangles whose corners are all to be kept."""
    scan = read_scan(larch_scan.FILE, unit="mm")
    placed = (scan.vertices - larch_scan.SHIFT) @ larch_scan.rotation()
    kept = scan.triangles[keep(placed)[scan.triangles].all(axis=1)]
    shutil.copytree(data_path("jobs").parent, tmp_path / "data", ignore=shutil.ignore_patterns("*.stl"))
    larch_scan.write(tmp_path / "data" / "cases" / "larch-scan.stl", scan.vertices, kept)
    return read_job(tmp_path / "data" / "jobs" / "grind-by-scan.toml")


def test_a_nearest_place_that_the_scan_does_not_show_is_measured_first(tmp_path):
    def seen(points):
        clock = np.degrees(np.arctan2(points[:, 1], points[:, 2]))
        outside = np.hypot(points[:, 1], points[:, 2]) > 24
        return ~(outside & (np.abs(clock - 33) < 45) & (points[:, 0] > -15))

    answer = check(changed_scan(tmp_path, seen))
    assert answer.verdict.code.value == "measure"
    assert "the scan does not show the boss at the nearest place" in answer.verdict.reason
    assert "by a scan that shows it or by caliper" in answer.verdict.next_reading
    assert answer.gap.nominal_mm < check(demo_job("grind-by-scan")).gap.nominal_mm + 0.05  # no gap is made up


def test_without_its_ring_axis_the_scan_says_what_it_takes(tmp_path):
    job = changed_scan(tmp_path, lambda points: np.hypot(points[:, 1], points[:, 2]) < 45)
    with pytest.raises(InputError, match=r"it does not show the ring axis .* pick a point on the ring gear's side"):
        as_read(job)
    side = larch_scan.rotation() @ [-5.0, 0.0, 80.0] + larch_scan.SHIFT
    (tmp_path / "data" / "cases" / "picks.csv").write_text("ring side, " + ", ".join(f"{x:.3f}" for x in side))
    found = as_read(with_changes(job, {"boss.scan_picks": "../cases/picks.csv"}))
    assert isinstance(found, Scanned)
    assert any("hand of the axle does not show in the scan" in note for note in found.mesh.notes)


def run(*arguments):
    return CliRunner().invoke(main, ["scan", *map(str, arguments)])


def test_the_command_shows_what_the_scan_shows():
    out = run(larch_scan.FILE, "--job", data_path("jobs/grind.toml")).output
    for words in (
        "told by its size: --unit says which",
        "pilot bore",
        "ring axis, two side-bearing bores",
        "Pilot bore 1.496 in (37.99 mm)",
        "Hand: pinion below the ring's centre line",
        "moves the gap by at most",
        "points scatter by 0.001 in (0.02 mm)",
        "Pinion support's face to the end face 3.46",
    ):
        assert words in out, out


def test_the_command_as_json_says_what_is_missing():
    document = json.loads(run(larch_scan.FILE, "--json").output)
    assert document["kind"] == "scan"
    assert document["hand"] is None
    assert document["missing"] == [
        'the hand of the axle: hand = "below" or "above", or pick a point on the ring gear\'s side (ring side)'
    ]
    assert document["offset"]["value_mm"] == pytest.approx(54.0, abs=0.1)
    assert [datum["name"] for datum in document["datums"]][:2] == ["pilot bore", "end face"]
    assert document["support_face"]["from_end_face"]["value_mm"] == pytest.approx(larch_scan.SUPPORT_FACE, abs=0.05)
    document = json.loads(run(larch_scan.FILE, "--json", "--hand", "below").output)
    assert document["missing"] == []
    assert document["end_face"]["value_mm"] == pytest.approx(50.0, abs=0.1)


def test_the_written_job_is_the_same_job_with_the_scan(tmp_path, job):
    path = tmp_path / "mine.toml"
    result = run(larch_scan.FILE, "--job", data_path("jobs/grind.toml"), "--write", path)
    assert result.exit_code == 0, result.output
    written = read_job(path)
    assert written.boss.scan.path == larch_scan.FILE
    assert written.boss.parts is None
    assert written.boss.edge_break is None
    assert written.boss.end_face.source == "scan"
    assert written.case.minimum_wall == demo_job("grind").case.minimum_wall
    assert gap_of(with_changes(written, LOWER_RING))[1] == pytest.approx(gap_of(job)[1], abs=0.05)
    assert run(larch_scan.FILE, "--job", path, "--write", path).exit_code == 0  # the job itself is brought up to date
    other = tmp_path / "there.toml"
    other.write_text("mine")
    assert run(larch_scan.FILE, "--job", path, "--write", other).exit_code == 2
    assert other.read_text() == "mine"


def test_a_diameter_that_the_scan_does_not_bear_out_is_said():
    out = run(larch_scan.FILE, "--bore-diameter", "38.6 mm", "--hand", "below").output
    assert "Does not agree: the pilot bore is 1.496 in (37.99 mm) in the scan, 1.520 in (38.60 mm) typed" in out
    assert "Does not agree" not in run(larch_scan.FILE, "--bore-diameter", "38.0 mm", "--hand", "below").output
    assert "Note: the pilot bore is the least one found" in run(larch_scan.FILE, "--hand", "below").output


def test_inches_are_written_out(tmp_path):
    scan = read_scan(larch_scan.FILE, unit="mm")
    larch_scan.write(tmp_path / "case.stl", scan.vertices / 25.4, scan.triangles)
    assert "triangles in inch, as said" in run(tmp_path / "case.stl", "--unit", "in", "--bore-diameter", "38 mm").output


@pytest.mark.parametrize(
    ("arguments", "fault"),
    [
        (("none.stl",), "none.stl"),
        ((larch_scan.FILE, "--write", "x.toml"), "--write: a job needs more than its boss"),
        ((larch_scan.FILE, "--unit", "in", "--bore-diameter", "38 mm"), "larch-scan.stl: "),
        (
            (larch_scan.FILE, "--unit", "mm", "--bore-diameter", "52 mm"),
            "no pilot bore of 2.047 in (52.00 mm) is in it",
        ),
        (
            (larch_scan.FILE, "--unit", "mm", "--bore-diameter", "45 mm"),
            "no pilot bore of 1.772 in (45.00 mm) is in it, but one of 1.49",
        ),
        ((larch_scan.FILE, "--bore-diameter", "52"), "--bore-diameter: "),
        ((larch_scan.FILE, "--picks", "none.csv"), "none.csv: cannot be read"),
    ],
)
def test_bad_input_is_one_line(arguments, fault, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    result = run(*arguments)
    assert result.exit_code == 2
    (line,) = result.stderr.splitlines()
    assert line.startswith("geartrack: ")
    assert fault in line
    assert list(tmp_path.iterdir()) == []


def test_the_hand_of_a_job_is_not_turned_round_unasked(tmp_path):
    demo, out = tmp_path / "demo", tmp_path / "out.toml"
    shutil.copytree(data_path("jobs").parent, demo)
    axle = demo / "axles" / "larch-240.toml"
    axle.write_text(axle.read_text(encoding="utf-8").replace('"below"', '"above"'), encoding="utf-8")
    asked = (demo / "cases/larch-scan.stl", "--job", demo / "jobs/grind-by-scan.toml", "--write", out)
    refused = run(*asked)
    assert refused.exit_code == 2
    assert "the job says above" in refused.stderr
    assert not out.exists()
    assert run(*asked, "--hand", "below").exit_code == 0
    assert read_job(out).axle.hand is Hand.BELOW
