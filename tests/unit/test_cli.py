"""The command line: one line a fault, status 2, nothing half-written; JSON is JSON; both units; no traceback."""

import json
import re
import subprocess
import sys

import pytest
from click.testing import CliRunner

from geartrack import __version__
from geartrack.cli import main
from geartrack.datafiles import data_path

GEARS = ["gears", "--teeth", "8/39", "--ring-diameter", "240mm", "--offset", "54mm", "--face-width", "37mm"]
GEARS += ["--pinion-spiral", "50deg", "--cutter-radius", "95mm"]
JOB = str(data_path("jobs/grind.toml"))


def run(*arguments: str, **options):
    result = CliRunner().invoke(main, list(arguments), **options)
    assert result.exception is None or isinstance(result.exception, SystemExit), result.exception
    return result


def refused(*arguments: str) -> list[str]:
    """The lines on stderr of a run that must end with status 2 and print nothing else."""
    result = run(*arguments)
    assert result.exit_code == 2
    assert result.stdout == ""
    assert "Traceback" not in result.stderr
    return result.stderr.splitlines()


@pytest.fixture
def job(tmp_path):
    """Writes a changed copy of a small whole job and gives its path."""
    text = """
name = "a test"
[axle]
ring_diameter = "240 mm"
offset = "54 mm"
hand = "below"
[gears]
teeth = "7/36"
[case]
measured = "this case"
[boss]
end_face = "50 mm"
bore_diameter = "38 mm"
bore_depth = "20 mm"
parts = [{ kind = "cylinder", diameter = "54 mm", from = "0 mm", to = "22 mm" }]
"""

    def write(*changes: tuple[str, str]) -> str:
        changed = text
        for old, new in changes:
            assert old in changed
            changed = changed.replace(old, new)
        path = tmp_path / "job.toml"
        path.write_text(changed, encoding="utf-8")
        return str(path)

    return write


GEAR_KEYS = {
    "pitch": "pinion_angle_deg ring_angle_deg pinion_mean_radius_mm ring_mean_radius_mm pinion_spiral_deg "
    "ring_spiral_deg offset_angle_pitch_plane_deg offset_angle_axial_plane_deg eta_deg limit_pressure_angle_deg "
    "mean_point_height_mm",
    "depth": "mean_normal_module_mm working_mm whole_mm ring_mean_addendum_mm ring_mean_dedendum_mm",
    "cones": "ring_tip_deg ring_root_deg pinion_tip_deg pinion_root_deg",
    "ring": "toe_tip_height_mm heel_tip_height_mm outside_diameter_mm",
    "pinion": "head_diameter_mm",
}


def test_gears_prints_the_documented_keys():
    document = json.loads(run(*GEARS, "--json").stdout)
    for group, names in GEAR_KEYS.items():
        for name in names.split():
            assert isinstance(document[group][name], float), name
    table = run(*GEARS).stdout
    assert "inch" in table
    assert "millimetre" in table


def test_check_tells_the_verdict_in_words_and_in_json():
    assert "GRIND" in run("check", JOB).stdout
    document = json.loads(run("check", JOB, "--json").stdout)
    assert document["verdict"] == "grind"
    assert document["geartrack"] == __version__


def test_check_with_other_teeth_and_target():
    document = json.loads(run("check", JOB, "--teeth", "9/35", "--target", "20 thou", "--json").stdout)
    assert document["teeth"] == "9/35"
    assert document["gap"]["lower_mm"] > 5
    assert document["verdict"] == "not_expected"


def test_figure_and_table_of_ratios_agree(tmp_path):
    figure = tmp_path / "ratios.svg"
    document = json.loads(run("ratios", JOB, "--teeth", "8/39, 7/36", "--figure", str(figure), "--json").stdout)
    text = figure.read_text(encoding="utf-8")
    assert [row["teeth"] for row in document["rows"]] == ["8/39", "7/36"]
    assert all(row["teeth"] in text for row in document["rows"])


@pytest.mark.parametrize("suffix", ["svg", "png", "pdf"])
def test_check_writes_a_figure_of_each_kind(tmp_path, suffix):
    figure = tmp_path / f"check.{suffix}"
    result = run("check", JOB, "--figure", str(figure))
    assert result.exit_code == 0
    assert figure.stat().st_size > 5000
    assert [path.name for path in tmp_path.iterdir()] == [figure.name]


def test_an_unknown_kind_of_figure_is_refused_and_nothing_is_left(tmp_path):
    lines = refused("check", JOB, "--figure", str(tmp_path / "check.docx"))
    assert ".svg" in lines[0]
    assert list(tmp_path.iterdir()) == []


def test_an_unwritable_figure_is_refused(tmp_path):
    assert "cannot be written" in refused("check", JOB, "--figure", str(tmp_path / "no" / "such" / "check.svg"))[0]


def test_units_put_the_other_one_first():
    assert run("check", JOB, "--units", "mm").stdout.index("mm (") > 0
    assert re.search(r"-0\.\d\d mm \(-0\.00\d in\)", run("check", JOB, "--units", "mm").stdout)


def test_quote_totals_and_names_its_defaults():
    text = run("quote", JOB).stdout
    assert "Total" in text
    assert "default" in text
    assert json.loads(run("quote", JOB, "--json").stdout)["total"]["likely"].count(".") == 1


def test_new_asks_and_writes_a_job_that_check_reads(tmp_path):
    path = tmp_path / "mine.toml"
    typed = [
        "spare case",
        "9 1/2 in",
        "54 mm",
        "below",
        "8/39",
        "50 mm",
        "2 1/8 in",
        "22 mm",
        "38 mm",
        "20 mm",
        "nodular",
        "",
    ]
    result = run("new", str(path), input="\n".join(typed) + "\n")
    assert result.exit_code == 0, result.stderr
    assert json.loads(run("check", str(path), "--json").stdout)["teeth"] == "8/39"
    assert "is there already" in refused("new", str(path))[0]


def test_new_asks_again_after_a_bad_answer(tmp_path):
    typed = ["x", "9 1/2", "9 1/2 in", "54 mm", "below", "8/39", "50 mm", "54 mm", "22 mm", "38 mm", "20 mm", "", ""]
    result = run("new", str(tmp_path / "mine.toml"), input="\n".join(typed) + "\n")
    assert result.exit_code == 0
    assert "no unit" in result.stderr


def test_new_keeps_what_was_typed_where_the_answers_do_not_fit_together(tmp_path):
    """A bore larger than the boss is known only at the end: one answer is typed again, Enter keeps the others."""
    typed = ["x", "9 1/2 in", "54 mm", "below", "8/39", "50 mm", "30 mm", "22 mm", "38 mm", "20 mm", "", ""]
    again = [""] * 6 + ["54 mm"] + [""] * 5
    result = run("new", str(tmp_path / "mine.toml"), input="\n".join([*typed, *again]) + "\n")
    assert result.exit_code == 0, result.stderr
    assert "Once more" in result.stderr
    assert json.loads(run("check", str(tmp_path / "mine.toml"), "--json").stdout)["teeth"] == "8/39"


def test_new_from_flags_alone(tmp_path):
    path = tmp_path / "mine.toml"
    flags = {
        "name": "x",
        "ring-diameter": "240mm",
        "offset": "54mm",
        "hand": "above",
        "teeth": "7/36",
        "end-face": "50mm",
    }
    flags |= {
        "boss-diameter": "54mm",
        "boss-length": "22mm",
        "bore-diameter": "38mm",
        "bore-depth": "20mm",
        "material": "grey",
        "measured": "another case",
    }
    result = run("new", str(path), *(part for k, v in flags.items() for part in (f"--{k}", v)))
    assert result.exit_code == 0, result.stderr
    assert json.loads(run("check", str(path), "--json").stdout)["hand"] == "above"


@pytest.mark.parametrize("more", [("--json",), ("--units", "mm"), ("--figure", "it.svg"), ("--copy", "here")])
def test_demo_takes_one_of_its_forms_at_a_time(more, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    assert "--steps alone" in refused("demo", "--steps", *more)[0]
    assert list(tmp_path.iterdir()) == []


def test_demo_copies_its_files_and_they_run(tmp_path):
    folder = tmp_path / "demo"
    assert run("demo", "--copy", str(folder)).exit_code == 0
    assert json.loads(run("check", str(folder / "jobs" / "grind.toml"), "--json").stdout)["verdict"] == "grind"
    assert "not an empty folder" in refused("demo", "--copy", str(folder))[0]


BAD_TEETH = {
    "0/39": "0 teeth on the pinion",
    "39/8": "8/39",
    "5/80": "12",
    "banana": "cannot read",
    "4.875": "say which",
    "-8/39": "cannot read",
    "8/39/3": "cannot read",
}


@pytest.mark.parametrize(("teeth", "words"), BAD_TEETH.items())
def test_bad_teeth(teeth, words):
    (line,) = refused("check", JOB, "--teeth", teeth)
    assert words in line


BAD_LENGTHS = {
    "240": "no unit",
    "240 furlong": "unknown unit",
    "-240 mm": "below zero",
    "nan mm": "number",
    "1e400 mm": "number",
    "9 mm": "9 in",
    "1,500 mm": "two ways",
    "9**9**9 in": "",
    "": "nothing",
}


@pytest.mark.parametrize(("text", "words"), BAD_LENGTHS.items())
def test_bad_lengths_in_a_file(job, text, words):
    (line,) = refused("check", job(('ring_diameter = "240 mm"', f'ring_diameter = "{text}"')))
    assert words in line
    assert "axle.ring_diameter" in line
    assert "line 4" in line


BAD_JOBS = {
    "an offset no pitch cone fits": (('offset = "54 mm"', 'offset = "110 mm"'), "offset"),
    "a face width beyond the cone": (('teeth = "7/36"', 'teeth = "7/36"\nface_width = "100 mm"'), "gears.face_width"),
    "a key that is nearly right": (('end_face = "50 mm"', 'end_fase = "50 mm"'), "end_face"),
    "a table that is nearly right": (("[gears]", "[gear]"), "gears"),
    "broken TOML": (('hand = "below"', 'hand = "below'), "line 6"),
    "a bore larger than the boss": (('bore_diameter = "38 mm"', 'bore_diameter = "56 mm"'), "bore"),
    "a boss without a wall": (('diameter = "54 mm"', 'diameter = "38 mm"'), "bore"),
    "another shaft angle": (('hand = "below"', 'hand = "below"\nshaft_angle = "60 deg"'), "90"),
    "a kind that has no offset": (('teeth = "7/36"', 'teeth = "7/36"\nkind = "straight bevel"'), "gears.kind"),
    "a size off that is no give or take": (
        ('measured = "this case"', 'measured = "this case"\noutside_size = "0.4 mm"'),
        "outside_size",
    ),
    "a wrong hand": (('hand = "below"', 'hand = "left"'), "below"),
}


@pytest.mark.parametrize("name", BAD_JOBS)
def test_bad_jobs(job, name):
    change, words = BAD_JOBS[name]
    lines = refused("check", job(change))
    assert any(words in line for line in lines), lines


def test_a_boss_across_the_rings_centre_line(job):
    lines = refused(
        "check", job(('offset = "54 mm"', 'offset = "20 mm"'), ('end_face = "50 mm"', 'end_face = "12 mm"'))
    )
    assert "ring's centre line" in lines[0]
    assert "boss.end_face" in lines[0]


def test_all_faults_of_a_file_are_told_at_once(job):
    lines = refused("check", job(('offset = "54 mm"', 'offset = "x"'), ('end_face = "50 mm"', 'end_fase = "50 mm"')))
    assert len(lines) >= 2


CSV_HEAD = "station_mm,clock_deg,radius_mm\n"
CSV_GOOD = "".join(f"{s},{t},27\n" for s in (0, 5, 10, 15, 20) for t in range(-90, 91, 30))
BAD_TABLES = {
    "a bad row": (CSV_GOOD + "5,x,27\n", "row 37"),
    "a duplicate": (CSV_GOOD + "5,30,27\n", "same station"),
    "a station outside the boss": (CSV_GOOD + "40,30,27\n", "22"),
    "millimetres typed as inches": (CSV_GOOD + "3,10,26.7 in\n", "other unit meant"),
    "a radius inside the bore": (CSV_GOOD + "3,10,12\n", "bore"),
}


@pytest.mark.parametrize("name", BAD_TABLES)
def test_bad_station_tables(job, tmp_path, name):
    rows, words = BAD_TABLES[name]
    (tmp_path / "boss.csv").write_text(CSV_HEAD + rows, encoding="utf-8")
    parts = 'parts = [{ kind = "cylinder", diameter = "54 mm", from = "0 mm", to = "22 mm" }]'
    lines = refused("check", job((parts, 'stations = "boss.csv"\nlength = "22 mm"')))
    assert any(words in line and "boss.csv" in line for line in lines), lines


@pytest.mark.parametrize("path", ["no-such-job.toml", "."])
def test_unreadable_paths(path):
    (line,) = refused("check", path)
    assert path in line


def test_usage_faults_have_status_2():
    assert run("check").exit_code == 2
    assert run("no-such-command").exit_code == 2


@pytest.mark.parametrize("shell", ["bash", "zsh", "fish"])
def test_completion_scripts(shell):
    assert "_GEARTRACK_COMPLETE" in run("completion", shell).stdout


def test_the_module_runs_and_obeys_no_color():
    command = [sys.executable, "-m", "geartrack", "--version"]
    assert __version__ in subprocess.run(command, capture_output=True, text=True, check=True).stdout
    environment = {"NO_COLOR": "1", "FORCE_COLOR": "1", "PATH": "", "TERM": "xterm-256color"}
    command = [sys.executable, "-m", "geartrack", "quote", JOB]
    text = subprocess.run(command, capture_output=True, text=True, check=True, env=environment).stdout
    assert "\x1b[3" not in text
