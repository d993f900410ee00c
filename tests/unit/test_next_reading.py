"""`geartrack next`, the ranking behind it, and how a check is told how to draw."""

import json

import pytest
from click.testing import CliRunner
from demo import demo_job
from figures_read import cut_off, run_together

from geartrack.cli import main
from geartrack.datafiles import data_path
from geartrack.draw import sure_figure
from geartrack.job import WallReading
from geartrack.quantity import give_or_take
from geartrack.spread import Sampling
from geartrack.study import check


def run(*arguments):
    given = [str(data_path(each)) if each.startswith("jobs/") else each for each in arguments]
    return CliRunner().invoke(main, given)


@pytest.fixture(scope="module")
def asked():
    return check(demo_job("measure"), Sampling(1024))


def test_readings_are_ranked_by_what_they_take_off_a_wrong_word_per_minute(asked):
    falls = [round(e.worth.wrong_now - e.worth.wrong_after, 3) / e.minutes for e in asked.next_readings]
    assert falls == sorted(falls, reverse=True)
    assert all(e.worth.half_after < e.worth.half_now for e in asked.next_readings)


def test_the_gap_itself_settles_it_most_often(asked):
    best = max(asked.next_readings, key=lambda each: each.worth.settles)
    assert best.name.startswith("the gap itself")
    assert best.worth.settles > 0.8
    assert best.worth.half_after < 0.25 * best.worth.half_now


def test_the_verdict_names_one_of_them(asked):
    assert asked.verdict.next_reading in [each.name for each in asked.next_readings if each.settles]


def test_what_was_read_is_not_asked_for_again():
    """The set of the grind job was read: heights, back face, edges; nothing of that is in the list."""
    names = " ".join(each.name for each in check(demo_job("grind"), Sampling(512)).next_readings)
    assert "height of the new ring" not in names
    assert "back face above" not in names


def test_a_reading_taken_does_what_was_said_of_it(asked):
    """The face width of the ring, read: low to high shrinks to about what the ranking foresaw."""
    foreseen = {each.name: each.worth for each in asked.next_readings}
    chamfer = next(worth for name, worth in foreseen.items() if name.startswith("chamfer"))
    read = check(demo_job("measure", gears__toe_chamfer="0.3 mm +/- 0.1 mm"), Sampling(1024)).band
    assert (read.high - read.low) / 2 == pytest.approx(chamfer.half_after, rel=0.25)
    # One outcome of many that the ranking averages over, and draws to 2 %.


def test_the_figure_can_be_read(asked):
    for units in ("in", "mm"):
        figure = sure_figure(asked, units)
        assert cut_off(figure) == []
        assert run_together(figure) == []


def test_the_command_ranks_in_words_and_json():
    said = run("next", "jobs/measure.toml")
    assert said.exit_code == 0
    assert "minutes" in said.stdout
    document = json.loads(run("next", "jobs/measure.toml", "--json").stdout)
    assert document["next_readings"][0]["minutes"] > 0
    assert document["band"]["method"] == "draws"
    assert document["band"]["worst_low_mm"] < document["band"]["low_mm"]


@pytest.mark.parametrize(
    ("flags", "said"),
    [
        (("--fast", "--draws", "512"), "--fast: makes no draws"),
        (("--draws", "500"), "500 draws"),
        (("--seed", "-1"), "a seed of -1"),
    ],
)
def test_flags_that_cannot_be_are_refused_in_a_line(flags, said):
    refused = run("check", "jobs/grind.toml", *flags)
    assert refused.exit_code == 2
    assert said in refused.stderr
    assert len(refused.stderr.strip().splitlines()) == 1


def test_fast_is_the_straight_sum():
    document = json.loads(run("check", "jobs/grind.toml", "--fast", "--json").stdout)
    assert document["band"]["method"] == "worst-case sum"
    assert document["band"]["low_mm"] == document["band"]["worst_low_mm"]
    assert document["running"]["p_contact"] is None


def test_the_demo_becomes_surer_step_by_step():
    said = run("demo", "--steps")
    assert said.exit_code == 0
    assert said.stdout.count("MEASURE FIRST") == 2
    assert "GRIND" in said.stdout


def test_a_verdict_that_stands_is_not_said_to_be_settled_by_a_reading():
    said = run("next", "jobs/grind.toml", "--draws", "256")
    assert "The verdict stands whatever of these is read" in said.stdout
    assert "over 99 %" not in said.stdout
    document = json.loads(run("next", "jobs/grind.toml", "--draws", "256", "--json").stdout)
    assert document["next_readings"]
    assert {each["settles"] for each in document["next_readings"]} == {None}


@pytest.mark.parametrize("name", ["dont-use", "dont-grind"])
def test_no_reading_changes_what_is_wrong_with_the_case(name, tmp_path):
    said = run("next", f"jobs/{name}.toml", "--draws", "256")
    assert said.exit_code == 0
    assert "No reading would change it." in said.stdout
    assert "minutes" not in said.stdout
    assert json.loads(run("next", f"jobs/{name}.toml", "--draws", "256", "--json").stdout)["next_readings"] == []
    refused = run("next", f"jobs/{name}.toml", "--draws", "256", "--figure", str(tmp_path / "sure.svg"))
    assert refused.exit_code == 2
    assert "nothing left to narrow" in refused.stderr


def test_a_wall_does_what_was_said_of_it():
    """Castings that are only known by their pattern: the wall where the teeth come near is worth most of a range."""
    loose = {"case__outside_size": "0 mm +/- 0.5 mm", "case__outside_off_centre": "0 mm +/- 0.75 mm"}
    answer = check(demo_job("grind", **loose), Sampling(1024))
    best = next(each for each in answer.next_readings if each.name.startswith("wall of the boss where"))
    assert best.minutes == 2
    assert best.worth.half_after < 0.4 * best.worth.half_now
    wall = WallReading(
        wall=give_or_take(7.7, 0.05), station=give_or_take(2.0, 0.0), clock=give_or_take(answer.place.clock, 0.02)
    )
    read = check(demo_job("grind", **loose).model_copy(update={"readings": (wall,)}), Sampling(1024))
    half = (read.band.high - read.band.low) / 2
    assert half == pytest.approx(best.worth.half_after, rel=0.3)
    again = [each for each in read.next_readings if each.name.startswith("wall of the boss where")]
    assert all(each.worth.half_after > 0.65 * half for each in again)  # a second one is worth little
