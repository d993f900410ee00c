"""`geartrack quick how`: the list, one method in words, its drawing as a file."""

from click.testing import CliRunner

from geartrack.cli import main
from geartrack.draw.methods import METHODS


def test_the_list_names_every_method():
    ran = CliRunner().invoke(main, ["quick", "how"])
    assert ran.exit_code == 0
    assert [line.split()[0] for line in ran.stdout.splitlines()] == list(METHODS)


def test_one_method_is_told_and_drawn(tmp_path):
    ran = CliRunner().invoke(main, ["quick", "how", "bar-over-bar", "--figure", str(tmp_path / "bars.png")])
    assert ran.exit_code == 0
    assert METHODS["bar-over-bar"].reading in " ".join(ran.stdout.split())
    assert (tmp_path / "bars.png").stat().st_size > 5000


def test_an_unknown_method_is_refused_with_the_list():
    ran = CliRunner().invoke(main, ["quick", "how", "guess"])
    assert ran.exit_code == 2
    assert "ring-height" in ran.stderr
