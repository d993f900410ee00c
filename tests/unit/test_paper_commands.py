"""template, depths and worksheet on the command line: what they write, and what they refuse in one line."""

import re

import pytest
from click.testing import CliRunner

from geartrack.cli import main
from geartrack.datafiles import data_path

JOBS = data_path("jobs")


def run(*arguments):
    result = CliRunner().invoke(main, [str(each) for each in arguments])
    assert result.exception is None or isinstance(result.exception, SystemExit), result.exception
    return result


@pytest.mark.parametrize(
    ("command", "name", "starts"),
    [
        ("template", "it.pdf", b"%PDF"),
        ("template", "it.svg", b"<?xml"),
        ("template", "it.DXF", b"  0"),
        ("depths", "it.csv", b"station_mm,clock_deg"),
        ("depths", "it.pdf", b"%PDF"),
    ],
)
def test_a_file_of_each_kind(command, name, starts, tmp_path):
    ran = run(command, JOBS / "grind.toml", tmp_path / name, "--paper", "a4", "--units", "mm")
    assert ran.exit_code == 0, ran.output
    assert ran.stdout == ""
    assert name in "".join(ran.stderr.split())
    assert (tmp_path / name).read_bytes().startswith(starts)


def test_a_worksheet_and_its_table(tmp_path):
    ran = run("worksheet", tmp_path / "it.pdf", JOBS / "grind.toml", "--csv", tmp_path / "it.csv")
    assert ran.exit_code == 0, ran.output
    assert (tmp_path / "it.pdf").read_bytes().startswith(b"%PDF")
    assert (tmp_path / "it.csv").read_text(encoding="utf-8").startswith("station_in,clock_deg,wall_in\n")


def test_a_bare_worksheet_on_a4_is_metric(tmp_path):
    assert run("worksheet", tmp_path / "it.pdf", "--paper", "a4", "--csv", tmp_path / "it.csv").exit_code == 0
    assert (tmp_path / "it.csv").read_text().startswith("station_mm,")


def test_paper_follows_the_units_unless_it_is_named(tmp_path):
    """A page's size stands in the file in points: 8.5 x 11 in, or 210 x 297 mm (72 points to the inch)."""
    for units, named, high in (
        ("in", None, 792.0),
        ("mm", None, 841.89),
        ("in", "a4", 841.89),
        ("mm", "letter", 792.0),
    ):
        more = ["--paper", named] if named else []
        assert run("worksheet", tmp_path / "it.pdf", "--units", units, *more).exit_code == 0
        (size,) = set(re.findall(rb"/MediaBox \[ 0 0 ([\d.]+) ([\d.]+) \]", (tmp_path / "it.pdf").read_bytes()))
        assert float(size[1]) == pytest.approx(high, abs=0.01)


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["template", JOBS / "grind.toml", "it.png"], "use .pdf, .svg or .dxf"),
        (["template", JOBS / "grind.toml", "it"], "use .pdf, .svg or .dxf"),
        (["depths", JOBS / "grind.toml", "it.xlsx"], "use .csv or .pdf"),
        (["worksheet", "it.svg"], "use .pdf"),
        (["worksheet", "it.pdf", "--csv", "it.txt"], "use .csv"),
        (["worksheet", "it.pdf", "--bore-diameter", "38"], "has no unit"),
        (["worksheet", "it.pdf", JOBS / "grind.toml", "--bore-diameter", "38 mm"], "is in the job already"),
        (["template", JOBS / "aluminium.toml", "it.pdf"], "maker's minimum wall"),
        (["depths", JOBS / "aluminium.toml", "it.csv"], "maker's minimum wall"),
        (["template", JOBS / "clears.toml", "it.pdf"], "CLEARS THE BOSS"),
        (["depths", JOBS / "measure.toml", "it.csv"], "MEASURE FIRST"),
        (["template", JOBS / "dont-use.toml", "it.dxf"], "DON'T USE THIS CASE"),
        (["template", JOBS / "nowhere.toml", "it.pdf"], "nowhere.toml"),
        (["template", JOBS / "grind.toml", "no/such/folder/it.pdf"], "cannot be written"),
    ],
)
def test_refused_in_one_line_and_nothing_written(arguments, says, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    ran = run(*arguments)
    assert ran.exit_code == 2
    assert ran.stdout == ""
    (line,) = ran.stderr.splitlines()
    assert says in line
    assert "Traceback" not in ran.stderr
    assert list(tmp_path.iterdir()) == []
